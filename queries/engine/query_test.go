package engine

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dynolake/queries/result"
)

const heavy = "SELECT count(*) FROM range(10000000) a, range(10000000) b WHERE a.range * 31 % 7 = b.range % 5"

func TestCancelInterrupts(t *testing.T) {
	s := openGiven(t, nil)
	for _, statement := range []string{heavy,
		"WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t) SELECT count(*) FROM t",
		"SELECT sum(a.range + b.range) FROM range(100000) a CROSS JOIN range(10000000) b",
		"SELECT a.range, b.range FROM range(10000000) a, range(10000000) b ORDER BY 1 DESC",
		"EXPLAIN ANALYZE " + heavy,
	} {
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(150*time.Millisecond, cancel)
		begun := time.Now()
		rows, err := s.Query(ctx, statement)
		if took := time.Since(begun); took > time.Second+150*time.Millisecond {
			t.Errorf("%s: went on for %v after its cancellation", statement, took)
		}
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: got %v (%v), want %v", statement, rows, err, context.Canceled)
		}
	}
	if got := ask(t, s, "SELECT 1"); !cmp.Equal(got, [][]any{{int64(1)}}) {
		t.Errorf("the session is of no use after a cancellation: %v", got)
	}
}

func TestTimeout(t *testing.T) {
	s, err := OpenTables(t.Context(), nil, Options{Timeout: 100 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	if _, err := s.Query(t.Context(), heavy); !errors.Is(err, ErrTimeout) {
		t.Errorf("got %v, want %v", err, ErrTimeout)
	}
	rows, err := s.Query(t.Context(), "SELECT range FROM range(3)")
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(150 * time.Millisecond) // The limit is on the run, not on who reads its rows.
	if all, err := rows.All(); err != nil || len(all) != 3 {
		t.Errorf("got %v, %v", all, err)
	}
}

// Statements that ask for more than there is fail by themselves and leave the session well.
func TestGreedyStatements(t *testing.T) {
	s, err := OpenTables(t.Context(), nil, Options{Memory: 64 << 20, Spill: 1 << 20, Threads: 2, Timeout: 20 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = s.Close() }()
	for _, statement := range []string{
		"SELECT list(range) FROM range(100000000)",
		"SELECT range(10000000000)",
		"SELECT string_agg(range, ',') FROM range(100000000)",
		"SELECT list(h) FROM (SELECT hash(range) AS h, range::VARCHAR FROM range(6000000) ORDER BY h)",
		"SELECT " + strings.Repeat("1+", 100_000) + "1",
		"SELECT " + strings.Repeat("NOT ", 50_000) + "true",
		"SELECT * FROM " + strings.Repeat("(SELECT * FROM ", 3000) + "runs" + strings.Repeat(")", 3000),
		"SELECT " + strings.Repeat("[", 20_000) + strings.Repeat("]", 20_000),
		"SELECT " + strings.Repeat("x", 2<<20),
	} {
		rows, err := s.Query(t.Context(), statement)
		if err == nil {
			_, err = rows.All()
		}
		if err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%.60s: got %.200v, want an error of one line", statement, err)
		}
	}
	if got := ask(t, s, "SELECT 1"); !cmp.Equal(got, [][]any{{int64(1)}}) {
		t.Errorf("got %v", got)
	}
}

// What does not fit into memory goes to the temporary folder up to its limit, and no further.
func TestTheTemporaryFolderIsBounded(t *testing.T) {
	const sorting = "SELECT md5(range::VARCHAR) AS a, md5(range::VARCHAR || 'b') AS b FROM range(2000000) ORDER BY a"
	for spill, want := range map[int64]string{1 << 20: "offload", 4 << 30: ""} {
		s, err := OpenTables(t.Context(), nil, Options{Memory: 64 << 20, Spill: spill, Threads: 2, Timeout: time.Minute})
		if err != nil {
			t.Fatal(err)
		}
		rows, err := s.Query(t.Context(), sorting)
		if err == nil {
			for rows.Next() {
			}
			err = errors.Join(rows.Err(), rows.Close())
		}
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("with %d bytes to spill: got %v, want %q", spill, err, want)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestFaults(t *testing.T) {
	s := openGiven(t, nil)
	for statement, want := range map[string]string{
		"SELECT bost_kpa FROM samples":                      `1:8: there is no column "bost_kpa" here; nearest: boost_kpa`,
		"SELECT\n  run_id,\n  vehicel\nFROM runs":           `3:3: there is no column "vehicel" here; nearest: vehicle`,
		"SELECT 'é', nope FROM runs":                        `1:13: there is no column "nope" here`,
		"SELECT * FROM sample":                              `did you mean samples?`,
		"SELECT * FROM runs WHERE":                          "1:25: syntax error at end of input",
		"SELECT 1 FROM runs GROUP BUY x":                    `1:26: syntax error at or near "BUY"`,
		"SELECT at FROM":                                    `at is a word of SQL: write "at"`,
		"SELECT CAST('a' AS INTEGER)":                       "1:8: could not convert string 'a' to INT32",
		"SELECT sum(vehicle) FROM runs":                     "1:8: no function matches",
		"SELECT nosuchfunction(1)":                          "1:8: refuse the statement: function nosuchfunction is not among those that queries may use; beside SQL's own",
		"SELECT kpa_to_pis(1)":                              "did you mean kpa_to_psi?",
		"SELECT bin_of(engine_speed_rpm, 250) FROM samples": "bin_of wants other arguments: bin_of(x, lo, hi, n)",
		"SELECT map_kpa FROM segments":                      `there is no column "map_kpa" here, but in samples, curves`,
		"SELECT run_id FROM runs WHERE rows = $rows":        "rows",
	} {
		_, err := s.Query(t.Context(), statement)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v, want %s", statement, err, want)
		}
	}
}

func TestArguments(t *testing.T) {
	s := openGiven(t, map[string]Rows{"runs": {Columns: []string{"run_id", "vehicle", "rows"}, Values: [][]any{{"a", "v1", 10}, {"b", "v2", 20}}}})
	rows, err := s.Query(t.Context(), "SELECT run_id FROM runs WHERE vehicle = $vehicle AND rows >= $least", sql.Named("least", 5.5), sql.Named("vehicle", "v2"))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := rows.All(); err != nil || !cmp.Equal(got, [][]any{{"b"}}) {
		t.Errorf("got %v, %v", got, err)
	}
	if _, err := s.Query(t.Context(), "SELECT 1", sql.Named("extra", 1)); err == nil {
		t.Error("an argument that the statement does not name was taken")
	}
}

func TestKinds(t *testing.T) {
	s := openGiven(t, nil)
	rows, err := s.Query(t.Context(), `SELECT 1::TINYINT a, 2::UBIGINT b, sum(3) c, 1.25::DECIMAL(6, 2) d, 1.5::FLOAT e, 2.5::DOUBLE f, true g, 'x' h,
		DATE '2026-03-04' i, TIMESTAMP '2026-03-04 05:06:07.25' j, TIMESTAMPTZ '2026-03-04 05:06:07+01' k, TIME '05:06:07' l, INTERVAL 90 MINUTE m,
		[1, NULL] n, {'p': 1, 'q': 'r'} o, MAP {'s': 1.5::DOUBLE} p, '\xAA'::BLOB q, NULL r, 'a'::ENUM('a') s, '{"x": [1]}'::JSON t,
		'6ba7b810-9dad-11d1-80b4-00c04fd430c8'::UUID u, 1 / 0 v, 0.0 / 0 w, [1.5]::DOUBLE[1] x`)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := result.Write(t.Context(), &b, rows, result.JSON, result.Options{}); err != nil {
		t.Fatal(err)
	}
	want := `[
{"a":1,"b":2,"c":3,"d":1.25,"e":1.5,"f":2.5,"g":true,"h":"x","i":"2026-03-04","j":"2026-03-04T05:06:07.25Z","k":"2026-03-04T04:06:07Z","l":"05:06:07","m":"1h30m0s","n":"[1,null]","o":"{\"p\":1,\"q\":\"r\"}","p":"{\"s\":1.5}","q":"qg==","r":null,"s":"a","t":"{\"x\": [1]}","u":"6ba7b810-9dad-11d1-80b4-00c04fd430c8","v":null,"w":null,"x":"[1.5]"}
]
`
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

// Many sessions and many statements in one session at once give what one gives.
func TestConcurrent(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 6, 200)
	shared := open(t, snap, Options{})
	want := ask(t, shared, groupBy)
	var wait sync.WaitGroup
	errs := make(chan error, 12)
	for i := range 12 {
		wait.Go(func() {
			s := shared
			if i%2 == 0 {
				var err error
				if s, err = Open(t.Context(), snap, Options{Threads: 1}); err != nil {
					errs <- err
					return
				}
				defer func() { _ = s.Close() }()
			}
			for range 5 {
				rows, err := s.Query(t.Context(), groupBy)
				if err != nil {
					errs <- err
					return
				}
				if got, err := rows.All(); err != nil || len(got) != len(want) {
					errs <- fmt.Errorf("got %d rows, want %d (%w)", len(got), len(want), err)
				}
			}
		})
	}
	wait.Wait()
	close(errs)
	for err := range errs {
		t.Error(err)
	}
}

func TestCloseLeavesNoFiles(t *testing.T) {
	s, err := OpenTables(t.Context(), nil, Options{Memory: 32 << 20, Threads: 1})
	if err != nil {
		t.Fatal(err)
	}
	rows, err := s.Query(t.Context(), "SELECT count(*) FROM (SELECT range, hash(range) h FROM range(4000000) ORDER BY h)")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rows.All(); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(s.temp); !os.IsNotExist(err) {
		t.Errorf("the temporary folder is still there (%v)", err)
	}
}

// A fault that comes after the first rows is told, and not taken for the end.
func TestFaultAmidTheRows(t *testing.T) {
	s := openGiven(t, nil)
	rows, err := s.Query(t.Context(), "SELECT CASE WHEN range = 3000000 THEN error('too far') ELSE range END FROM range(4000000)")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for rows.Next() {
		n++
	}
	if err := rows.Err(); err == nil || !strings.Contains(err.Error(), "too far") || n == 0 {
		t.Errorf("got %#v after %d rows", err, n)
	}
	if err := rows.Close(); err != nil {
		t.Error(err)
	}
}

// Rows are computed as they are read: reading the first of very many neither takes long nor much memory, and a cancellation
// between two of them ends it.
func TestRowsStream(t *testing.T) {
	s := openGiven(t, nil)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	begun := time.Now()
	rows, err := s.Query(ctx, "SELECT a.range, hash(b.range) FROM range(100000) a, range(1000000) b WHERE (a.range + b.range) % 3 = 0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = rows.Close() }()
	for range 100_000 {
		if !rows.Next() {
			t.Fatal(rows.Err())
		}
	}
	if took := time.Since(begun); took > 5*time.Second {
		t.Errorf("the first rows took %v", took)
	}
	cancel()
	for rows.Next() {
	}
	if !errors.Is(rows.Err(), context.Canceled) {
		t.Errorf("got %v", rows.Err())
	}
}

// Rows that are open when their session ends stay readable.
func TestRowsOutliveTheirSession(t *testing.T) {
	s, err := OpenTables(t.Context(), nil, Options{})
	if err != nil {
		t.Fatal(err)
	}
	rows, err := s.Query(t.Context(), "SELECT range FROM range(100000)")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if all, err := rows.All(); err != nil || len(all) != 100_000 {
		t.Errorf("got %d rows, %v", len(all), err)
	}
}
