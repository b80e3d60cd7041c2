package fleet

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/queries/dialect"
	"dynolake/queries/engine"
	"dynolake/schema"
)

// What is refused before anything runs.
func TestOnlyTheViewsAreReached(t *testing.T) {
	needsLibrary(t)
	s := openOver(t, aShop(t, 1), Options{})
	for _, statement := range []string{
		"DROP TABLE runs", "INSERT INTO runs VALUES (1)", "CREATE TABLE x AS SELECT 1", "SELECT 1; SELECT 2", "SET readonly = 0", "SYSTEM SHUTDOWN", "KILL QUERY WHERE 1",
		"SELECT * FROM file('/etc/passwd', 'LineAsString')", "SELECT * FROM url('http://127.0.0.1/')", "SELECT * FROM s3('http://x/y')", "SELECT * FROM system.tables",
		"SELECT * FROM executable('x')", "SELECT file('/etc/passwd')", "SELECT hostName()", "SELECT getSetting('max_threads')", "SELECT sleep(3)", "SELECT * FROM numbers(5)",
		"SELECT * FROM '/etc/passwd'", "SELECT * FROM merge('x', 'y')", "SELECT dictGet('x', 'y', 1)", "SELECT * FROM runs INTO OUTFILE '/tmp/x'", "SELECT * FROM runs SETTINGS readonly = 0",
		"SELECT * FROM runs FORMAT JSON", "SELECT $1", "EXPLAIN SELECT 1", "SUMMARIZE runs", "SHOW TABLES", "DESCRIBE runs",
	} {
		_, err := all(t.Context(), s, statement)
		refused, fault, other := new(engine.Refused), new(engine.Fault), new(dialect.Refused)
		if !errors.As(err, &refused) && !errors.As(err, &fault) && !errors.As(err, &other) && (err == nil || !strings.Contains(err.Error(), "has no value")) {
			t.Errorf("%s: %v, want a refusal", statement, err)
		}
	}
}

// What the engine itself refuses, were a statement to come so far. INTO OUTFILE it would do, being its own client here: no translated
// statement has it.
func TestTheEngineOnlyReads(t *testing.T) {
	needsLibrary(t)
	s := openOver(t, aShop(t, 1), Options{})
	w, err := s.connect(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = w.close(t.Context(), nil) }()
	dir := t.TempDir()
	for _, statement := range []string{
		"SET readonly = 0", "CREATE TABLE x ENGINE = Memory AS SELECT 1 AS a", "CREATE DATABASE x", "CREATE VIEW x AS SELECT 1 AS a", "SYSTEM FLUSH LOGS", "CREATE USER x", "DROP DATABASE default",
		"INSERT INTO FUNCTION file('" + filepath.Join(dir, "x.csv") + "', 'CSV', 'a Int32') VALUES (1)",
	} {
		if err := w.run(t.Context(), statement); err == nil {
			t.Errorf("%s was done", statement)
		}
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("it wrote %v, %v", left, err)
	}
}

func TestPlacesAndEnginesThatCannotBe(t *testing.T) {
	none := func(string) string { return "" }
	for _, c := range []struct {
		root string
		o    Options
		say  string
	}{
		{"here", Options{Engine: Embedded, Env: none}, "set DYNOLAKE_CHDB"},
		{"here", Options{Engine: Embedded, Env: func(string) string { return "/nowhere/libchdb.so" }}, `names "/nowhere/libchdb.so": the library is not there`},
		{"he{r}e", Options{Engine: Embedded, Env: none}, "publish to a place without them"},
		{"here, and there", Options{Engine: Embedded, Env: none}, "publish to a place without them"},
		{"s3://lakes/north", Options{Engine: Embedded, Env: none}, "no endpoint"},
		{"here", Options{Engine: "gopher://x", Env: none}, "want http://"},
		{"here", Options{Engine: "http://me:secret-word@x/", Env: none}, "DYNOLAKE_ENGINE_PASSWORD"},
		{"here", Options{Engine: "http://x/a/b", Env: none}, "no more than"},
		{"here", Options{Engine: "http://x/?readonly=0", Env: none}, "no more than"},
		{"here", Options{Engine: "http://[", Env: none}, "want http://"},
	} {
		_, err := Open(t.Context(), schema.Snapshot{Root: c.root}, c.o)
		if err == nil || !strings.Contains(err.Error(), c.say) || strings.Contains(err.Error(), "secret-word") {
			t.Errorf("%s of %s: %v, want %q", c.o.Engine, c.root, err, c.say)
		}
	}
	if _, err := load(os.Args[0]); err == nil || !strings.Contains(err.Error(), "no library") && !strings.Contains(err.Error(), "another file") {
		t.Errorf("a program for a library: %v", err)
	}
}
