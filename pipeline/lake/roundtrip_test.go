package lake

import (
	"database/sql"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"dynolake/schema"
)

// What one implementation of Parquet writes another reads the same, value for value, under the catalogue's field ids.
func TestSamplesReadBackByAnotherImplementation(t *testing.T) {
	l := newTestLake(t)
	for seed := range uint64(6) {
		e := entry(seed, 50+int(seed)*400, "a")
		commitAll(t, l, Batch{Runs: []Entry{e}})
		path := samplesOf(t, l, e.Run.ID)
		f, values := leaves(t, path)
		for _, c := range f.Root().Columns() {
			want, ok := schema.Lookup(c.Name())
			if c.Name() == "run_id" {
				continue
			}
			if !ok || c.ID() != want.ID {
				t.Fatalf("%s has field id %d, want %d", c.Name(), c.ID(), want.ID)
			}
			for i, v := range e.Frame.Column(want.Name) {
				if got := plain(values[want.Name][i]); got != expected(want, v) {
					t.Fatalf("seed %d: %s row %d: got %s, want %s", seed, want.Name, i, got, expected(want, v))
				}
			}
		}
		for _, name := range e.Frame.Names() {
			if _, there := values[name]; there != e.Frame.Has(name) {
				t.Errorf("%s: in the file %v, has values %v", name, there, e.Frame.Has(name))
			}
		}
	}
}

// leaves reads all values of a file's flat columns with parquet-go.
func leaves(t testing.TB, path string) (*parquet.File, map[string][]parquet.Value) {
	t.Helper()
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = in.Close() })
	info, err := in.Stat()
	if err != nil {
		t.Fatal(err)
	}
	f, err := parquet.OpenFile(in, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	values := map[string][]parquet.Value{}
	names := f.Schema().Columns()
	for _, g := range f.RowGroups() {
		rows := g.Rows()
		buffer := make([]parquet.Row, 256)
		for {
			n, err := rows.ReadRows(buffer)
			for _, r := range buffer[:n] {
				for _, v := range r {
					name := strings.Join(names[v.Column()], ".")
					values[name] = append(values[name], v.Clone())
				}
			}
			if err != nil {
				break
			}
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return f, values
}

func samplesOf(t testing.TB, l *Lake, run string) string {
	t.Helper()
	s, err := l.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range s.Files["samples"] {
		if strings.Contains(f, run) {
			return filepath.Join(s.Root, f)
		}
	}
	t.Fatalf("no samples of run %s", run)
	return ""
}

// expected is what a frame's value is as text once stored; plain is the same of what was read.
func expected(c schema.Column, v float64) string {
	switch {
	case math.IsNaN(v):
		return "NULL"
	case c.Type == "enum":
		return c.Values[int(v)]
	case c.Type == "float32":
		return fmt.Sprint(float32(v))
	}
	return fmt.Sprint(v)
}

func plain(v parquet.Value) string {
	switch {
	case v.IsNull():
		return "NULL"
	case v.Kind() == parquet.ByteArray:
		return string(v.ByteArray())
	case v.Kind() == parquet.Float:
		return fmt.Sprint(v.Float())
	case v.Kind() == parquet.Int32:
		return fmt.Sprint(v.Int32())
	}
	return fmt.Sprint(v.Double())
}

// A reader that asks by field id over files with different columns gets each value, NULL where a file lacks the column,
// halves as halves and zeros as zeros.
func TestDuckReadsByFieldID(t *testing.T) {
	l := newTestLake(t)
	var b Batch
	for seed := range uint64(5) {
		b.Runs = append(b.Runs, entry(seed, 40, "a"))
	}
	commitAll(t, l, b)
	table, _ := schema.LookupTable("samples")
	s, err := l.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	db := duck(t)
	from, _ := duckTable(s, table)
	for _, e := range b.Runs {
		for _, c := range schema.Columns() {
			want := make([]string, e.Frame.Len())
			for i := range want {
				want[i] = "NULL"
				if v := e.Frame.Column(c.Name); v != nil {
					want[i] = expected(c, v[i])
				}
			}
			got := cells(t, db, fmt.Sprintf("SELECT %q FROM %s WHERE run_id = '%s' ORDER BY t_s", c.Name, from, e.Run.ID))
			if !slices.Equal(got, want) {
				t.Fatalf("run %s column %s:\ngot  %v\nwant %v", e.Run.ID, c.Name, got, want)
			}
		}
	}
}

// cells reads a single column.
func cells(t *testing.T, db *sql.DB, statement string) []string {
	t.Helper()
	rows, err := db.Query(statement)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = rows.Close() }()
	var got []string
	for rows.Next() {
		var v any
		if err := rows.Scan(&v); err != nil {
			t.Fatal(err)
		}
		if v == nil {
			v = "NULL"
		}
		got = append(got, fmt.Sprint(v))
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return got
}

// The small tables as a reader sees them, spelt out.
func TestSmallTablesReadBack(t *testing.T) {
	l := newTestLake(t)
	e := entry(1, 20, "a")
	e.Findings[0].T0S = 0
	commitAll(t, l, Batch{Runs: []Entry{e}})
	got := dump(t, l)
	id := e.Run.ID
	for table, want := range map[string][]string{
		"segments": {
			id + "|0|pull|0.0|1.5|4|~|1500.0|4000.0|101.25|300.0|0.0|~|~|~|cold|~|~|~|~|~",
			id + "|1|shift|2.0|2.5|~|false|~|~|~|~|~|~|~|~|~|2|3|2800.0|~|~",
			id + "|2|idle|3.0|4.0|~|~|~|~|~|~|~|~|~|~|~|~|~|~|~|800.0",
		},
		"sources": {id + "|log-1.csv|delimited|" + e.Sources[0].SHA256 + "|6|20|12|18.5|99.0|0.0"},
		"unmapped": {
			id + "|log.csv|~|Empty|~|[]|[]|~",
			id + "|log.csv|~|Mystery|furlong|[0.0, 0.5, 1.0]|[1.5, NULL, 0.0]|[NULL, ERROR, NULL]",
			id + "|log.csv|~|Plain|~|[0.0, 1.0]|[2.0, 3.0]|~",
		},
		"findings": {id + "|log.csv|note|shift|~|shifted|0.25|s|0.0|~|2025-06-01 12:00:00+00|~"},
		"runs": {id + "|van-1|light-4|light|base|~|sweep|" + e.Run.StartedAt.Format("2006-01-02 15:04:05") +
			"+00|2.375|20|~|~|none|~|0.0|~|~|2025-06-01 12:00:00+00|test"},
	} {
		if !slices.Equal(got[table], want) {
			t.Errorf("%s:\ngot  %q\nwant %q", table, got[table], want)
		}
	}
	if len(got["curves"]) != 5 || !strings.Contains(got["curves"][0], "|engine_speed_rpm|1525.0|3|") {
		t.Errorf("curves: %q", got["curves"])
	}
}

// A frame longer than a row group is cut into several and read back whole.
func TestRowGroupsAreBounded(t *testing.T) {
	n := groupRows + 1000
	f := schema.NewFrame(make([]float64, n))
	v := make([]float64, n)
	for i := range v {
		f.T[i], v[i] = float64(i)/100, float64(i%977)
	}
	f.Set("engine_speed_rpm", v)
	e := entry(1, 2, "a")
	e.Frame = f
	l := newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{e}})
	file, values := leaves(t, samplesOf(t, l, e.Run.ID))
	if g := len(file.RowGroups()); g != 2 {
		t.Errorf("%d row groups, want 2", g)
	}
	for i, x := range values["engine_speed_rpm"] {
		if x.Float() != float32(i%977) {
			t.Fatalf("row %d: %v", i, x)
		}
	}
	if len(values["t_s"]) != n {
		t.Errorf("%d rows, want %d", len(values["t_s"]), n)
	}
}
