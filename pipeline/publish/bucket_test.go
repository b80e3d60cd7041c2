package publish

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
)

const (
	keyID  = "WORKSHOPKEYIDWORKSHO"
	secret = "a-secret-that-nobody-may-read"
)

// gate stands before the server, which asks for no keys: it knows one key id, and one path that its holder may not write to.
type gate struct{ next http.Handler }

func (g gate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	refuse := func(code string) {
		w.WriteHeader(http.StatusForbidden)
		// A store that is careless: it repeats what it was given.
		_, _ = fmt.Fprintf(w, "<Error><Code>%s</Code><Message>no: %s %s</Message><StringToSign>%s</StringToSign></Error>", code, secret, r.Header.Get("Authorization"), secret)
	}
	switch {
	case !strings.Contains(r.Header.Get("Authorization"), "Credential="+keyID+"/"):
		refuse("InvalidAccessKeyId")
	case strings.HasPrefix(r.URL.Path, "/lakes/locked/") && r.Method == http.MethodPut:
		refuse("AccessDenied")
	default:
		g.next.ServeHTTP(w, r)
	}
}

// serve starts an S3 server on the loopback address with one bucket and gives the environment to reach it.
func serve(t *testing.T) map[string]string {
	t.Helper()
	memory := s3mem.New()
	if err := memory.CreateBucket("lakes"); err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(gate{gofakes3.New(memory, gofakes3.WithLogger(gofakes3.DiscardLog())).Server()})
	t.Cleanup(server.Close)
	return map[string]string{"AWS_ENDPOINT_URL_S3": server.URL, "AWS_REGION": "eu-north-1", "AWS_ACCESS_KEY_ID": keyID, "AWS_SECRET_ACCESS_KEY": secret}
}

func with(form Form, env map[string]string) Options {
	o := options(form)
	o.Env = func(name string) string { return env[name] }
	return o
}

func TestABucketHoldsTheLake(t *testing.T) {
	env := serve(t)
	l := stocked(t)
	for _, dest := range []string{"s3://lakes/shop/north", "s3://lakes"} {
		o := with(Iceberg, env)
		r, err := Run(t.Context(), l, dest, o)
		if err != nil {
			t.Fatal(err)
		}
		s := openStore(t, dest, o.Env)
		if r.URI != dest {
			t.Errorf("published to %s, want %s", r.URI, dest)
		}
		sameAsLake(t, l, s, dest)
		commit(t, l, invent(2, 5, dest), invent(5, 6, "van-c"))
		if _, err := Run(t.Context(), l, dest, o); err != nil {
			t.Fatal(err)
		}
		sameAsLake(t, l, s, dest)
		if r, err := Run(t.Context(), l, dest, o); err != nil || r.New() {
			t.Errorf("nothing is new: %+v, %v", r, err)
		}
		if dest == "s3://lakes/shop/north" { // The bucket's root is to be empty for the next.
			for info, err := range openStore(t, "s3://lakes", o.Env).List(t.Context(), "") {
				if err != nil || !strings.HasPrefix(info.Name, "shop/north/") {
					t.Fatalf("%s lies outside of the prefix: %v", info.Name, err)
				}
				if err := openStore(t, "s3://lakes", o.Env).Remove(t.Context(), info.Name); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
}

func TestPlainParquetInABucket(t *testing.T) {
	env := serve(t)
	l := stocked(t)
	o := with(Parquet, env)
	check := func() {
		t.Helper()
		if _, err := Run(t.Context(), l, "s3://lakes/plain", o); err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir() // As another machine would fetch it.
		s := openStore(t, "s3://lakes/plain", o.Env)
		for info, err := range s.List(t.Context(), "") {
			if err != nil {
				t.Fatal(err)
			}
			text, err := s.Read(t.Context(), info.Name)
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(dir, info.Name)
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		globbed(t, l, dir)
		listed(t, dir)
	}
	check()
	commit(t, l, invent(2, 5, "van-z"))
	check()
	compactAll(t, l)
	check()
}

func TestWhatABucketRefuses(t *testing.T) {
	env := serve(t)
	l := stocked(t)
	file := filepath.Join(t.TempDir(), "keys")
	if err := os.WriteFile(file, fmt.Appendf(nil, "[default]\naws_access_key_id = %s\naws_secret_access_key = %s\n", keyID, secret), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, dest, say string
		change          map[string]string
	}{
		{"no such bucket", "s3://nobody/x", `no bucket "nobody"`, nil},
		{"wrong keys", "s3://lakes/x", "does not know the keys (InvalidAccessKeyId)", map[string]string{"AWS_ACCESS_KEY_ID": "SOMEBODYELSESKEY"}},
		{"no permission", "s3://lakes/locked", "does not permit it (AccessDenied)", nil},
		{"half of the keys", "s3://lakes/x", "set both", map[string]string{"AWS_SECRET_ACCESS_KEY": ""}},
		{"no keys", "s3://lakes/x", "AWS_SHARED_CREDENTIALS_FILE", map[string]string{"AWS_SECRET_ACCESS_KEY": "", "AWS_ACCESS_KEY_ID": ""}},
		{"no such file", "s3://lakes/x", "the file that AWS_SHARED_CREDENTIALS_FILE names", map[string]string{"AWS_SECRET_ACCESS_KEY": "", "AWS_ACCESS_KEY_ID": "", "AWS_SHARED_CREDENTIALS_FILE": file + "x"}},
		{"no server", "s3://lakes/x", "does not answer", map[string]string{"AWS_ENDPOINT_URL_S3": "http://127.0.0.1:1"}},
		{"no address", "s3://lakes/x", "AWS_ENDPOINT_URL", map[string]string{"AWS_ENDPOINT_URL_S3": "127.0.0.1:9000"}},
		{"keys from a file", "s3://lakes/fine", "", map[string]string{"AWS_SECRET_ACCESS_KEY": "", "AWS_ACCESS_KEY_ID": "", "AWS_SHARED_CREDENTIALS_FILE": file}},
	} {
		changed := map[string]string{}
		for _, m := range []map[string]string{env, c.change} {
			for k, v := range m {
				changed[k] = v
			}
		}
		_, err := Run(t.Context(), l, c.dest, with(Iceberg, changed))
		if c.say == "" && err == nil {
			continue
		}
		if err == nil || c.say == "" || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: %v, want %q", c.name, err, c.say)
			continue
		}
		for _, hidden := range []string{secret, "Credential", "Signature="} {
			if strings.Contains(err.Error(), hidden) {
				t.Errorf("%s: the message tells %q: %v", c.name, hidden, err)
			}
		}
	}
}

// Nothing that is stored holds a key.
func TestNoKeyIsStored(t *testing.T) {
	env := serve(t)
	l := stocked(t)
	for _, form := range Forms() {
		o := with(form, env)
		dest := "s3://lakes/" + string(form)
		if _, err := Run(t.Context(), l, dest, o); err != nil {
			t.Fatal(err)
		}
		s := openStore(t, dest, o.Env)
		for info, err := range s.List(t.Context(), "") {
			if err != nil {
				t.Fatal(err)
			}
			text, err := s.Read(t.Context(), info.Name)
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(text), secret) || strings.Contains(string(text), keyID) {
				t.Errorf("%s holds a key", info.Name)
			}
		}
	}
}
