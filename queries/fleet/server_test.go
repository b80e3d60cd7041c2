package fleet

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"
)

const (
	asker    = "asker"
	password = "open sesame/+&"
)

// standIn speaks a server's protocol and passes statements on to the embedded engine: a session is a connection.
type standIn struct {
	t        *testing.T
	mu       sync.Mutex
	sessions map[string]*embedded
	begun    chan string // Gets the id of every statement.
	asked    []string
}

func newStandIn(t *testing.T) (*standIn, string) {
	t.Helper()
	needsLibrary(t)
	s := &standIn{t: t, sessions: map[string]*embedded{}, begun: make(chan string, 1000)}
	server := httptest.NewServer(s)
	t.Cleanup(func() {
		server.Close()
		for _, w := range s.sessions {
			_ = w.close(t.Context(), nil)
		}
	})
	return s, server.URL
}

func (s *standIn) session(name string) *embedded {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.sessions[name] == nil {
		w, err := dialEmbedded(os.Getenv(LibraryVariable), nil)
		if err != nil {
			s.t.Error(err)
			return nil
		}
		s.sessions[name] = w
	}
	return s.sessions[name]
}

func (s *standIn) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	user, word, _ := r.BasicAuth()
	if user != asker || word != password {
		w.WriteHeader(http.StatusForbidden)
		_, _ = io.WriteString(w, "Code: 516. DB::Exception: asker: Authentication failed: password is incorrect. (AUTHENTICATION_FAILED) (version 26.7.2.1 (official build))\n")
		return
	}
	body, _ := io.ReadAll(r.Body)
	statement, q := string(body), r.URL.Query()
	s.mu.Lock()
	s.asked = append(s.asked, statement)
	s.mu.Unlock()
	if strings.Contains(r.URL.String(), "sesame") || q.Get("wait_end_of_query") != "1" || q.Get("default_format") != form {
		s.t.Errorf("asked by %s", r.URL)
	}
	if q.Get("session_id") == "" { // To stop another's statement.
		return
	}
	s.begun <- q.Get("query_id")
	text, err := answered(r.Context(), s.session(q.Get("session_id")), statement)
	if f := new(Fault); errors.As(err, &f) {
		w.WriteHeader(http.StatusInternalServerError)
		text = []byte(fmt.Sprintf("Code: %d. DB::Exception: %s (version 26.7.2.1 (official build))\n", f.Code, f.Message))
	}
	_, _ = w.Write(text)
}

func answered(ctx context.Context, w wire, statement string) ([]byte, error) {
	if !strings.HasPrefix(statement, "SELECT") && !strings.HasPrefix(statement, "WITH") && !strings.HasPrefix(statement, "(") {
		return nil, w.run(ctx, statement)
	}
	body, err := w.ask(ctx, statement)
	if err != nil {
		return nil, err
	}
	text, err := io.ReadAll(body)
	return text, errors.Join(err, body.Close())
}

func login(name string) string {
	return map[string]string{UserVariable: asker, PasswordVariable: password, LibraryVariable: os.Getenv(LibraryVariable)}[name]
}

func TestAServerAnswersAsTheEmbeddedEngineDoes(t *testing.T) {
	stand, at := newStandIn(t)
	snap := aShop(t, 1000)
	here, there := openOver(t, snap, Options{Threads: 1}), openOver(t, snap, Options{Engine: at, Env: login, Threads: 1, Timeout: time.Minute, Memory: 1 << 30})
	for _, statement := range []string{
		"SELECT * FROM runs ORDER BY run_id",
		"SELECT operator_note, length(operator_note) AS n FROM runs ORDER BY run_id",
		"WITH x AS (SELECT run_id, avg(boost_kpa) AS b FROM samples GROUP BY run_id), y AS (SELECT * FROM x) SELECT x.run_id, round(x.b + y.b, 3) AS b FROM x JOIN y ON x.run_id = y.run_id",
		"SELECT t_s, boost_kpa FROM samples ORDER BY t_s",
	} {
		want, err := all(t.Context(), here, statement)
		if err != nil {
			t.Fatal(err)
		}
		got, err := all(t.Context(), there, statement)
		if err != nil || fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: %v, %v, want %v", statement, got, err, want)
		}
	}
	made, dropped := 0, 0
	for _, statement := range stand.asked {
		if strings.HasPrefix(statement, "CREATE TEMPORARY TABLE") {
			made++
		}
		if strings.HasPrefix(statement, "DROP") {
			dropped++
		}
	}
	if made < 1 || dropped < made {
		t.Errorf("%d temporary tables were made and %d things dropped", made, dropped)
	}
}

func TestAServersStatementIsStopped(t *testing.T) {
	stand, at := newStandIn(t)
	s := openOver(t, aShop(t, 20_000), Options{Engine: at, Env: login, Threads: 1})
	ctx, cancel := context.WithCancel(t.Context())
	var last string
	go func() {
		for last = range stand.begun {
			if strings.HasSuffix(last, "-4") { // After two settings, the view: the answer.
				time.Sleep(300 * time.Millisecond)
				cancel()
				return
			}
		}
	}()
	if _, err := all(ctx, s, heavy); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	stand.mu.Lock()
	defer stand.mu.Unlock()
	found := false
	for _, statement := range stand.asked {
		found = found || statement == "KILL QUERY WHERE query_id = '"+last+"' ASYNC"
	}
	if !found {
		t.Errorf("the server was not told to stop %s: %q", last, stand.asked)
	}
}

// What is answered in place of rows, and by whom.
func TestServersThatDoNotAnswer(t *testing.T) {
	needsNothing := aShop(t, 1)
	told := make(chan string, 10)
	other := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		_, word, _ := r.BasicAuth()
		told <- word
	}))
	defer other.Close()
	for _, c := range []struct {
		name string
		does http.HandlerFunc
		say  string
	}{
		{"not of the kind", http.NotFound, "status 404 and is perhaps none of the kind"},
		{"sends elsewhere", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, other.URL, http.StatusTemporaryRedirect)
		}, "status 307"},
		{"wants a login", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusUnauthorized) }, "does not know the user \"asker\" or the password: look at DYNOLAKE_ENGINE_USER and DYNOLAKE_ENGINE_PASSWORD"},
		{"knows no such user", answers(http.StatusForbidden, "Code: 516. DB::Exception: asker: Authentication failed"), "does not know the user"},
		{"repeats the password", answers(http.StatusInternalServerError, "Code: 62. DB::Exception: Syntax error near "+password), "Syntax error near [hidden]"},
		{"is old", answers(http.StatusInternalServerError, "Code: 115, e.displayText() = DB::Exception: Unknown setting join_use_nulls, e.what() = DB::Exception"), "too old for translated statements: Unknown setting"},
		{"answers with nothing", func(http.ResponseWriter, *http.Request) {}, "before its columns are named"},
		{"breaks off", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Length", "1000")
			_, _ = io.WriteString(w, "n\nInt64\n1")
		}, "unexpected EOF"},
	} {
		server := httptest.NewServer(c.does)
		s := openOver(t, needsNothing, Options{Engine: server.URL, Env: login})
		_, err := all(t.Context(), s, "SELECT count(*) AS n FROM runs")
		if err == nil || !strings.Contains(err.Error(), c.say) || strings.Contains(err.Error(), password) {
			t.Errorf("a server that %s: %v, want %q", c.name, err, c.say)
		}
		server.Close()
		if _, err := all(t.Context(), s, "SELECT 1 AS a"); err == nil || !strings.Contains(err.Error(), "does not answer") {
			t.Errorf("a server that is gone: %v", err)
		}
	}
	if len(told) > 0 {
		t.Errorf("the password %q went where the address did not say", <-told)
	}
}

func answers(status int, text string) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(status)
		_, _ = io.WriteString(w, text+"\n")
	}
}

func TestWhoIsOverheard(t *testing.T) {
	for engine, want := range map[string]bool{
		Embedded: false, "https://x/": false, "http://x:8123": true, "http://localhost:8123/": false, "http://127.0.0.1": false, "http://[::1]:8123/": false, "http://10.0.0.1/": true,
	} {
		if got := Overheard(engine); got != want {
			t.Errorf("%s: %v, want %v", engine, got, want)
		}
	}
}

func TestAWrongPasswordIsToldOf(t *testing.T) {
	_, at := newStandIn(t)
	s := openOver(t, aShop(t, 1), Options{Engine: at, Env: func(name string) string { return login(name) + "x" }})
	if _, err := all(t.Context(), s, "SELECT 1 AS a"); err == nil || !strings.Contains(err.Error(), `does not know the user "askerx"`) {
		t.Error(err)
	}
}
