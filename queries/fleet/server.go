package fleet

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"
)

// Variables that tell a server who asks. A password is never part of an address: command lines can be read by others.
const (
	UserVariable     = "DYNOLAKE_ENGINE_USER"
	PasswordVariable = "DYNOLAKE_ENGINE_PASSWORD"
)

// sessionSeconds is how long a server keeps a session that says nothing more; a statement under way keeps it too.
const sessionSeconds = "60"

// longest answer to read where a server tells an error.
const longestFault = 64 << 10

// server is a session with a server, over its HTTP interface.
type server struct {
	client         *http.Client
	at             url.URL
	user, password string
	keys           []string // Never to be told.
	session        string
	count          int
}

// address reads http://user@host:port/database or https://….
func address(text string) (*url.URL, error) {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, errors.New("read the engine's address: want http://user@host:8123/database or https://user@host:8443/database")
	}
	if _, has := u.User.Password(); has {
		return nil, fmt.Errorf("read the engine's address: a password does not belong into it: put it into %s", PasswordVariable)
	}
	if u.RawQuery != "" || u.Fragment != "" || strings.Contains(strings.Trim(u.Path, "/"), "/") {
		return nil, errors.New("read the engine's address: want no more than http://user@host:8123/database")
	}
	return u, nil
}

func dialServer(text string, env func(string) string, keys []string) (*server, error) {
	u, err := address(text)
	if err != nil {
		return nil, err
	}
	var name [16]byte
	_, _ = rand.Read(name[:]) // It never fails: the runtime aborts instead.
	s := &server{at: *u, user: u.User.Username(), password: env(PasswordVariable), keys: keys, session: "dynolake-" + hex.EncodeToString(name[:])}
	if s.user == "" {
		s.user = env(UserVariable)
	}
	s.at.User = nil
	s.client = &http.Client{
		Transport:     &http.Transport{Proxy: http.ProxyFromEnvironment, DialContext: (&net.Dialer{Timeout: 10 * time.Second}).DialContext, TLSHandshakeTimeout: 10 * time.Second},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }, // The password goes to the address given alone.
	}
	return s, nil
}

// close drops by hand what the server would keep until it forgets the session. It is no fault where that fails.
func (s *server) close(ctx context.Context, drop []string) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	for _, d := range drop {
		if err := s.run(ctx, d); err != nil {
			break
		}
	}
	s.client.CloseIdleConnections()
	return nil
}

func (s *server) run(ctx context.Context, statement string) error {
	body, err := s.ask(ctx, statement)
	if err != nil {
		return err
	}
	_, err = io.Copy(io.Discard, body)
	return errors.Join(err, body.Close())
}

func (s *server) ask(ctx context.Context, statement string) (io.ReadCloser, error) {
	s.count++
	id := fmt.Sprintf("%s-%d", s.session, s.count)
	answer, err := s.send(ctx, statement, url.Values{"session_id": {s.session}, "session_timeout": {sessionSeconds}, "query_id": {id}})
	if ctx.Err() != nil {
		s.stop(ctx, id)
		if answer != nil {
			_ = answer.Close() // The statement was stopped; that is what is told.
		}
		return nil, context.Cause(ctx)
	}
	if err != nil {
		return nil, err
	}
	return &received{ReadCloser: answer, ctx: ctx}, nil
}

// send posts a statement. The server holds the answer back until it is whole, so that an error is one and not a part of the answer.
func (s *server) send(ctx context.Context, statement string, params url.Values) (io.ReadCloser, error) {
	at := s.at
	params.Set("default_format", form)
	params.Set("wait_end_of_query", "1")
	params.Set("max_query_size", "67108864")
	if database := strings.Trim(at.Path, "/"); database != "" {
		params.Set("database", database)
	}
	at.Path, at.RawQuery = "/", params.Encode()
	ask, err := http.NewRequestWithContext(ctx, http.MethodPost, at.String(), strings.NewReader(statement))
	if err != nil {
		return nil, errors.New("read the engine's address: no request can be made of it")
	}
	if s.user != "" || s.password != "" {
		ask.SetBasicAuth(s.user, s.password)
	}
	answer, err := s.client.Do(ask)
	if err != nil {
		return nil, fmt.Errorf("ask the engine: the server at %s does not answer: look at the address and the network", s.at.Host)
	}
	if answer.StatusCode == http.StatusOK {
		return answer.Body, nil
	}
	text, err := io.ReadAll(io.LimitReader(answer.Body, longestFault))
	if err = errors.Join(err, answer.Body.Close()); err != nil {
		return nil, fmt.Errorf("ask the engine: the server at %s broke off: %w", s.at.Host, err)
	}
	return nil, discreet(s.refusal(answer.StatusCode, string(text)), append(s.keys, s.password))
}

// refusal says what a server answered in place of rows.
func (s *server) refusal(status int, text string) error {
	err := explain(text)
	const wrongPassword, noUser, failed = 193, 192, 516
	switch c := code(err); {
	case c == wrongPassword || c == noUser || c == failed || status == http.StatusUnauthorized || c == 0 && status == http.StatusForbidden:
		return fmt.Errorf("ask the engine: the server at %s does not know the user %q or the password: look at %s and %s", s.at.Host, s.user, UserVariable, PasswordVariable)
	case c == 0:
		return fmt.Errorf("ask the engine: the server at %s answered with status %d and is perhaps none of the kind: want ClickHouse's HTTP interface", s.at.Host, status)
	}
	return err
}

// stop ends a statement that a server may go on with after nobody listens.
func (s *server) stop(ctx context.Context, id string) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if answer, err := s.send(ctx, "KILL QUERY WHERE query_id = '"+id+"' ASYNC", url.Values{}); err == nil {
		_ = answer.Close() // What it says changes nothing.
	}
}

// received is an answer that tells why it ends when the context does.
type received struct {
	io.ReadCloser
	ctx context.Context //nolint:containedctx // Of the request whose answer it is.
}

func (r *received) Read(into []byte) (int, error) {
	n, err := r.ReadCloser.Read(into)
	if err != nil && r.ctx.Err() != nil {
		return n, context.Cause(r.ctx)
	}
	return n, err
}

// Overheard reports whether what goes to a server can be read on its way: over http, and to another machine.
func Overheard(engine string) bool {
	u, err := address(engine)
	if err != nil || u.Scheme == "https" || u.Hostname() == "localhost" {
		return false
	}
	ip := net.ParseIP(u.Hostname())
	return ip == nil || !ip.IsLoopback()
}

// CheckAddress says what is wrong with a server's address, if anything is.
func CheckAddress(text string) error {
	_, err := address(text)
	return err
}
