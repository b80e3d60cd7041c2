package fleet

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dynolake/queries/result"
)

const debianServer = "/usr/sbin/clickhouse-server"

// debian starts the server that Debian packages, of 2018: too old for translated statements, and one that nobody here wrote.
func debian(t *testing.T) string {
	t.Helper()
	if _, err := os.Stat(debianServer); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	dir := t.TempDir()
	http, tcp := freePort(t), freePort(t)
	for name, text := range map[string]string{
		"config.xml": fmt.Sprintf(`<yandex><logger><level>error</level><log>%[1]s/log</log><errorlog>%[1]s/err</errorlog></logger><listen_host>127.0.0.1</listen_host>
<http_port>%[2]d</http_port><tcp_port>%[3]d</tcp_port><path>%[1]s/data/</path><tmp_path>%[1]s/tmp/</tmp_path><users_config>users.xml</users_config>
<default_profile>default</default_profile><default_database>default</default_database><mark_cache_size>1048576</mark_cache_size></yandex>`, dir, http, tcp),
		"users.xml": `<yandex><profiles><default/></profiles><quotas><default/></quotas><users><asker><password>open sesame/+&amp;</password>
<networks><ip>127.0.0.1</ip></networks><profile>default</profile><quota>default</quota></asker></users></yandex>`,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	c := exec.Command(debianServer, "--config-file="+filepath.Join(dir, "config.xml"))
	c.Dir = dir
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = c.Process.Kill() // It ends by nothing else.
		_ = c.Wait()         // It says that it was killed.
	})
	at := fmt.Sprintf("http://127.0.0.1:%d/default", http)
	for begun := time.Now(); ; time.Sleep(100 * time.Millisecond) {
		if err := debianWire(t, at).run(t.Context(), "SELECT 1"); err == nil {
			return at
		} else if time.Since(begun) > time.Minute {
			said, _ := os.ReadFile(filepath.Join(dir, "err"))
			t.Fatalf("the server does not begin: %v: %s", err, said)
		}
	}
}

func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	return l.Addr().(*net.TCPAddr).Port
}

func debianWire(t *testing.T, at string) *server {
	t.Helper()
	w, err := dialServer(at, login, nil)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func debianRows(t *testing.T, w *server, statement string, kinds ...result.Kind) string {
	t.Helper()
	body, err := w.ask(t.Context(), statement)
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
	columns := make([]result.Column, len(kinds))
	for i, k := range kinds {
		columns[i] = result.Column{Name: fmt.Sprint(i), Kind: k}
	}
	r, err := newRows(body, columns)
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
	r.last, r.done = func() error { return nil }, func() error { return nil }
	all, err := result.New(columns, r).All()
	if err != nil {
		t.Fatalf("%s: %v", statement, err)
	}
	return fmt.Sprint(all)
}

// Debian's server: login, a session with its settings and temporary tables, answers, errors, read-only, and the end of a statement.
func TestDebiansServer(t *testing.T) {
	at := debian(t)
	w := debianWire(t, at)
	got := debianRows(t, w, `SELECT version() AS v, 1.5 AS x, NULL AS n, [1, 2] AS l, 'a\tb\n\\\'' AS s, toDate('2026-03-31') AS d, toInt64(-3) AS i, 1 = 1 AS yes`,
		result.Text, result.Float64, result.Text, result.Nested, result.Text, result.Date, result.Int, result.Bool)
	if want := "[[18.16.1 1.5 <nil> [1 2] a\tb\n\\' 2026-03-31 -3 true]]"; got != want {
		t.Errorf("it answered %s, want %s", got, want)
	}
	for _, statement := range []string{"SET join_use_nulls = 1, max_memory_usage = 1000000000", "SET readonly = 2", "CREATE TEMPORARY TABLE held AS SELECT toInt64(number) AS a FROM system.numbers LIMIT 100000"} {
		if err := w.run(t.Context(), statement); err != nil {
			t.Errorf("%s: %v", statement, err)
		}
	}
	if got := debianRows(t, w, "SELECT count(a) AS n, sum(a) AS s FROM held", result.Int, result.Int); got != "[[100000 4999950000]]" {
		t.Errorf("the session's table holds %s", got)
	}
	if got := debianRows(t, w, "SELECT a FROM held ORDER BY a", result.Int); strings.Count(got, "[") != 100001 {
		t.Errorf("%d rows of 100000 were read", strings.Count(got, "[")-1)
	}
	if err := debianWire(t, at).run(t.Context(), "SELECT count(*) FROM held"); code(err) != 60 { // No such table.
		t.Errorf("another session sees it: %v", err)
	}
	if err := w.run(t.Context(), "CREATE TABLE kept ENGINE = Memory AS SELECT 1 AS a"); code(err) != codeReadonly {
		t.Errorf("it writes: %v", err)
	}
	if err := w.run(t.Context(), "SELECT nope"); code(err) != 47 || !strings.HasPrefix(err.Error(), "ask the engine: Unknown identifier: nope") {
		t.Errorf("an unknown name: %v", err)
	}
	if err := debianWire(t, at+"x").run(t.Context(), "SELECT 1"); code(err) != 81 { // No such database.
		t.Errorf("an unknown database: %v", err)
	}
	stranger, err := dialServer(at, func(name string) string { return login(name) + "x" }, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := stranger.run(t.Context(), "SELECT 1"); err == nil || !strings.Contains(err.Error(), "does not know the user") {
		t.Errorf("a stranger: %v", err)
	}
}

func TestDebiansServerIsStoppedAndTooOld(t *testing.T) {
	at := debian(t)
	ctx, cancel := context.WithTimeout(t.Context(), time.Second)
	defer cancel()
	if err := debianWire(t, at).run(ctx, "SELECT count() FROM system.numbers WHERE sipHash64(number) = 7"); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("it was to be stopped: %v", err)
	}
	w := debianWire(t, at)
	for begun := time.Now(); ; time.Sleep(100 * time.Millisecond) {
		left := debianRows(t, w, "SELECT query FROM system.processes WHERE query LIKE '%sipHash64%' AND query NOT LIKE '%processes%'", result.Text)
		if left == "[]" {
			break
		} else if time.Since(begun) > 20*time.Second {
			t.Fatalf("it goes on with %s", left)
		}
	}
	s := openOver(t, aShop(t, 1), Options{Engine: at, Env: login})
	if _, err := all(t.Context(), s, "SELECT count(*) AS n FROM runs"); err == nil || !strings.Contains(err.Error(), "too old for translated statements") {
		t.Errorf("asked as a fleet's: %v", err)
	}
}
