package fleet

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"dynolake/queries/engine"
	"dynolake/queries/result"
	"dynolake/schema"
)

// needsLibrary leaves a test out where the embedded engine's library is not there, save in CI.
func needsLibrary(t *testing.T) {
	t.Helper()
	switch {
	case os.Getenv(LibraryVariable) != "":
	case os.Getenv("CI") != "":
		t.Fatalf("%s names no library", LibraryVariable)
	default:
		t.Skipf("%s names no library", LibraryVariable)
	}
}

// published writes rows of tables as files of a publication, as an older program may have: columns that are not given are not there.
func published(t *testing.T, tables map[string]*result.Rows) schema.Snapshot {
	t.Helper()
	snap := schema.Snapshot{ID: 1, Root: t.TempDir(), Files: map[string][]string{}}
	for name, rows := range tables {
		path := name + "/month=2026-03/" + name + ".parquet"
		if err := os.MkdirAll(filepath.Dir(filepath.Join(snap.Root, path)), 0o755); err != nil {
			t.Fatal(err)
		}
		f, err := os.Create(filepath.Join(snap.Root, path))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(result.Write(t.Context(), f, rows, result.Parquet, result.Options{}), f.Close()); err != nil {
			t.Fatal(err)
		}
		snap.Files[name] = []string{path}
	}
	return snap
}

// aShop has two runs and n rows of samples.
func aShop(t *testing.T, n int) schema.Snapshot {
	t.Helper()
	texts := []result.Column{{Name: "run_id"}, {Name: "vehicle"}, {Name: "operator_note"}}
	samples := []result.Column{{Name: "run_id"}, {Name: "t_s", Kind: result.Float64}, {Name: "boost_kpa", Kind: result.Float32}}
	var rows [][]any
	for i := range n {
		rows = append(rows, []any{"a", float64(i) / 10, float32(i % 100)})
	}
	return published(t, map[string]*result.Rows{
		"runs":    result.Of(texts, [][]any{{"a", "van-x", "tab\tline\nquote'\"back\\slash {curly} Ü"}, {"b", nil, ""}}),
		"samples": result.Of(samples, rows),
	})
}

func openOver(t *testing.T, snap schema.Snapshot, o Options) *Session {
	t.Helper()
	if o.Engine == "" {
		o.Engine = Embedded
	}
	if o.Env == nil {
		o.Env = os.Getenv
	}
	s, err := Open(t.Context(), snap, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func all(ctx context.Context, s *Session, statement string) ([][]any, error) {
	rows, err := s.Query(ctx, statement)
	if err != nil {
		return nil, err
	}
	return rows.All()
}

func TestTheEmbeddedEngineAnswers(t *testing.T) {
	needsLibrary(t)
	s := openOver(t, aShop(t, 1000), Options{Threads: 2})
	for statement, want := range map[string]string{
		"SELECT run_id, vehicle, platform, started_at FROM runs ORDER BY run_id":                "[[a van-x <nil> <nil>] [b <nil> <nil> <nil>]]",
		"SELECT operator_note FROM runs ORDER BY run_id":                                        "[[tab\tline\nquote'\"back\\slash {curly} Ü] []]",
		"SELECT count(*) AS n, round(avg(boost_kpa), 2) AS b, count(map_kpa) AS m FROM samples": "[[1000 49.5 0]]",
		"SELECT count(*) AS n FROM curves":                                                      "[[0]]",
		"SELECT count(*) AS n FROM unmapped":                                                    "[[0]]",
		"SELECT count(*) AS n FROM vehicles":                                                    "[[0]]",
		"WITH runs AS (SELECT run_id AS r FROM runs) SELECT r FROM runs ORDER BY r":             "[[a] [b]]",
		"SELECT 1 / 0 AS none, 7 / 2 AS half, NULL AS n, true AS yes":                           "[[<nil> 3.5 <nil> true]]",
	} {
		got, err := all(t.Context(), s, statement)
		if err != nil || fmt.Sprint(got) != want {
			t.Errorf("%s: %v, %v, want %s", statement, got, err, want)
		}
	}
}

// The library sets handlers of signals; Go's own must be there after it, or a nil pointer ends the process.
func TestSignalsStayGos(t *testing.T) {
	needsLibrary(t)
	s := openOver(t, aShop(t, 1), Options{})
	if _, err := all(t.Context(), s, "SELECT count(*) AS n FROM runs"); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if recover() == nil {
			t.Error("a nil pointer is no panic any more")
		}
	}()
	var none *schema.Snapshot
	t.Log(none.Root)
}

func TestLongAnswersAreRead(t *testing.T) {
	needsLibrary(t)
	const n = 150_000 // Several of the engine's chunks.
	s := openOver(t, aShop(t, n), Options{Threads: 2})
	rows, err := s.Query(t.Context(), "SELECT t_s, boost_kpa FROM samples ORDER BY t_s")
	if err != nil {
		t.Fatal(err)
	}
	i := 0
	for ; rows.Next(); i++ {
		if r := rows.Row(); r[0] != float64(i)/10 || r[1] != float32(i%100) {
			t.Fatalf("row %d is %v", i, r)
		}
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil || i != n {
		t.Errorf("%d rows, %v, want %d", i, err, n)
	}
	if rows, err = s.Query(t.Context(), "SELECT t_s FROM samples ORDER BY t_s"); err != nil || !rows.Next() {
		t.Fatal(err)
	}
	if err := errors.Join(rows.Close(), rows.Close()); err != nil { // With most of it unread.
		t.Error(err)
	}
}

// heavy runs for hours where nothing stops it.
const heavy = "SELECT count(*) AS n FROM samples a JOIN samples b ON a.run_id = b.run_id JOIN samples c ON c.run_id = b.run_id WHERE a.t_s + b.t_s * c.t_s = 0.123"

func TestAStatementIsStopped(t *testing.T) {
	needsLibrary(t)
	snap := aShop(t, 20_000)
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(500*time.Millisecond, cancel)
	begun := time.Now()
	if _, err := all(ctx, openOver(t, snap, Options{Threads: 1}), heavy); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if _, err := all(t.Context(), openOver(t, snap, Options{Threads: 1, Timeout: 500 * time.Millisecond}), heavy); !errors.Is(err, engine.ErrTimeout) {
		t.Errorf("out of time: %v", err)
	}
	if took := time.Since(begun); took > 30*time.Second {
		t.Errorf("both took %s", took)
	}
	_, err := all(t.Context(), openOver(t, snap, Options{Threads: 1, Memory: 64 << 20}),
		"SELECT count(DISTINCT a.t_s * b.t_s) AS n FROM samples a JOIN samples b ON a.run_id = b.run_id")
	if f := new(Fault); !errors.As(err, &f) || f.Code != codeMemory || !strings.Contains(f.Message, "needs more memory") {
		t.Errorf("out of memory: %v", err)
	}
	if got, err := all(t.Context(), openOver(t, snap, Options{}), "SELECT count(*) AS n FROM samples"); err != nil || fmt.Sprint(got) != "[[20000]]" {
		t.Errorf("after all that: %v, %v", got, err)
	}
}

func TestFilesThatAreGoneAreToldOf(t *testing.T) {
	needsLibrary(t)
	snap := aShop(t, 10)
	first := snap.Files["runs"][0]
	snap.Files["runs"] = append(snap.Files["runs"], "runs/month=2026-04/gone.parquet")
	s := openOver(t, snap, Options{})
	if got, err := all(t.Context(), s, "SELECT count(*) AS n FROM runs"); err == nil || !strings.Contains(err.Error(), "gone.parquet") {
		t.Errorf("with a file that is gone: %v, %v", got, err)
	}
	if got, err := all(t.Context(), s, "SELECT count(*) AS n FROM samples"); err != nil {
		t.Errorf("of another table: %v, %v", got, err)
	}
	snap.Files["runs"] = []string{first}
	if err := os.WriteFile(filepath.Join(snap.Root, first), []byte("not a table at all"), 0o600); err != nil {
		t.Fatal(err)
	}
	if got, err := all(t.Context(), openOver(t, snap, Options{}), "SELECT max(vehicle) AS v FROM runs"); err == nil || !strings.Contains(err.Error(), "arquet") {
		t.Errorf("with a damaged file: %v, %v", got, err)
	}
}

func TestGoroutinesShareASession(t *testing.T) {
	needsLibrary(t)
	s := openOver(t, aShop(t, 5000), Options{Threads: 1})
	var wait sync.WaitGroup
	for i := range 4 {
		wait.Go(func() {
			got, err := all(t.Context(), s, fmt.Sprintf("WITH x AS (SELECT count(*) AS n FROM samples WHERE boost_kpa < %d) SELECT n FROM x", 10*i+10))
			if want := fmt.Sprintf("[[%d]]", 500*(i+1)); err != nil || fmt.Sprint(got) != want {
				t.Errorf("%v, %v, want %s", got, err, want)
			}
		})
	}
	wait.Wait()
}
