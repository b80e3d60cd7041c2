package tables

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk"
	"dynolake/queries/engine"
	"dynolake/queries/packs"
)

// fleet is a lake of given runs, by vehicle, with a query of the user's that is told of each vehicle apart.
type fleet struct {
	job    Job
	runs   map[string][]string
	asked  [][]string // Vehicles of each session.
	common string     // What is of no single run.
	memory int64      // Of a session, usually; 0 for enough.
}

func newFleet(t *testing.T, sql string) *fleet {
	t.Helper()
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "mine"), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"count": "-- apart: vehicle\n" + sql, "all": "SELECT count(*) AS n FROM runs"} {
		if err := os.WriteFile(filepath.Join(dir, "mine", name+".sql"), []byte("-- title: Counted\n"+text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	set, err := packs.Load(dir)
	if err != nil || len(set.Problems) > 0 {
		t.Fatal(err, set.Problems)
	}
	f := &fleet{job: Job{Root: t.TempDir(), Disk: disk.OS()}}
	for _, name := range []string{"mine/count", "mine/all"} {
		p, err := set.Pack(name)
		if err != nil {
			t.Fatal(err)
		}
		statement, err := p.SQL(nil)
		if err != nil {
			t.Fatal(err)
		}
		f.job.Queries = append(f.job.Queries, Query{Pack: p, Statement: statement, Apart: p.Apart})
	}
	return f
}

// write brings the tables up to the runs as they are.
func (f *fleet) write(t *testing.T, was Shares, books map[string]Book) Result {
	t.Helper()
	f.asked, f.job.Was, f.job.Shares = nil, was, Shares{}
	all := ""
	for _, v := range slices.Sorted(maps.Keys(f.runs)) {
		f.job.Shares[v] = strings.Join(f.runs[v], " ")
		all += v + f.job.Shares[v] + "\n"
	}
	f.job.Data, f.job.Contents = all, map[string]string{"runs": all, "": f.common}
	f.job.Open = func(ctx context.Context, vehicles []string, times int64) (*engine.Session, error) {
		f.asked = append(f.asked, vehicles)
		rows := engine.Rows{Columns: []string{"vehicle", "run_id"}}
		for v, ids := range f.runs {
			for _, id := range ids {
				var name any = v
				if v == "" {
					name = nil
				}
				if vehicles == nil || slices.Contains(vehicles, v) {
					rows.Values = append(rows.Values, []any{name, id})
				}
			}
		}
		return engine.OpenTables(ctx, map[string]engine.Rows{"runs": rows}, engine.Options{Memory: times * f.memory})
	}
	res, err := Write(t.Context(), f.job, books)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func (f *fleet) table(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(f.job.Root, Folder, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

const counted = "SELECT vehicle, count(*) AS n, max(run_id) AS newest FROM runs GROUP BY vehicle ORDER BY vehicle"

// A table that is told of each vehicle apart is asked for of those with news alone, and comes out byte for byte as when it is asked for whole.
func TestPart(t *testing.T) {
	first := map[string][]string{"": {"x"}, "a": {"1"}, "b": {"2", "3"}, "c": {"4"}, "d": {"5"}, "e": {"6"}}
	for name, c := range map[string]struct {
		change map[string][]string
		asked  []string
	}{
		"another run":       {map[string][]string{"b": {"2", "3", "7"}}, []string{"b"}},
		"a run of no one":   {map[string][]string{"": {"x", "y"}}, []string{""}},
		"a vehicle at last": {map[string][]string{"z": {"8"}, "a": {"1", "9"}}, []string{"a", "z"}},
		"a vehicle between": {map[string][]string{"bb": {"8"}}, []string{"bb"}},
		"a vehicle is gone": {map[string][]string{"c": nil}, []string{"c"}},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFleet(t, counted)
			f.runs = maps.Clone(first)
			res := f.write(t, nil, nil)
			was := f.job.Shares
			maps.Copy(f.runs, c.change)
			maps.DeleteFunc(f.runs, func(_ string, ids []string) bool { return ids == nil })
			res = f.write(t, was, res.Books)
			if d := cmp.Diff([]string{"mine_count"}, res.Partly); d != "" {
				t.Error(d)
			}
			if !slices.ContainsFunc(f.asked, func(v []string) bool { return slices.Equal(v, c.asked) }) {
				t.Errorf("asked of %q, want %q", f.asked, c.asked)
			}
			whole := newFleet(t, counted)
			whole.runs = f.runs
			whole.write(t, nil, nil)
			for _, file := range []string{"mine_count.csv", "mine_count.parquet", "mine_all.csv", "manifest.json"} {
				if got, want := f.table(t, file), whole.table(t, file); got != want {
					t.Errorf("%s is\n%s\nasked for whole it is\n%s", file, got, want)
				}
			}
		})
	}
}

// Where half of the vehicles have news, or what is of no single vehicle is another, all are asked for.
func TestPartOfMany(t *testing.T) {
	f := newFleet(t, counted)
	f.runs = map[string][]string{"a": {"1"}, "b": {"2"}, "c": {"3"}, "d": {"4"}}
	res := f.write(t, nil, nil)
	was := maps.Clone(f.job.Shares)
	f.runs["a"], f.runs["b"] = []string{"5"}, []string{"6"}
	if res = f.write(t, was, res.Books); len(res.Partly) > 0 || len(res.Computed) != 2 {
		t.Errorf("half of them: %+v", res)
	}
	was = maps.Clone(f.job.Shares)
	f.runs["a"] = []string{"7"}
	f.common = "a run is stored anew"
	if res = f.write(t, was, res.Books); len(res.Partly) > 0 || len(res.Computed) != 2 {
		t.Errorf("another basis of all: %+v", res)
	}
}

// An answer that is not in the order that its query promises is refused, at its first making already.
func TestPartOutOfOrder(t *testing.T) {
	for sql, want := range map[string]string{
		counted + " DESC":                "is not ordered by",
		"SELECT count(*) AS n FROM runs": "no text column \"vehicle\"",
	} {
		f := newFleet(t, sql)
		f.runs = map[string][]string{"a": {"1"}, "b": {"2"}}
		res := f.write(t, nil, nil)
		if len(res.Problems) != 1 || !strings.Contains(res.Problems[0].Error(), want) || !strings.Contains(res.Problems[0].Error(), "count.sql") {
			t.Errorf("%s: %v, want one that says %q", sql, res.Problems, want)
		}
	}
}

// Killed between its tables and its books, a refresh leaves newer tables than the books tell: none of them is gone on with.
func TestPartOfNewerTables(t *testing.T) {
	f := newFleet(t, counted)
	f.runs = map[string][]string{"a": {"1"}, "b": {"2"}, "c": {"3"}, "d": {"4"}}
	books := f.write(t, nil, nil).Books
	was := maps.Clone(f.job.Shares)
	f.runs["b"] = []string{"2", "5"}
	f.write(t, was, books)
	f.runs["b"] = []string{"2"} // And back, which the old books' shares cannot tell from never.
	f.runs["c"] = []string{"3", "6"}
	if res := f.write(t, was, books); len(res.Partly) > 0 {
		t.Errorf("gone on with: %+v", res)
	}
	whole := newFleet(t, counted)
	whole.runs = f.runs
	whole.write(t, nil, nil)
	if got, want := f.table(t, "mine_count.csv"), whole.table(t, "mine_count.csv"); got != want {
		t.Errorf("mine_count.csv is\n%s\nasked for whole it is\n%s", got, want)
	}
}

// A table that wants more memory than sessions usually have is asked for once more, with more.
func TestMoreMemory(t *testing.T) {
	f := newFleet(t, counted)
	f.job.Queries[1].Statement = "SELECT len(list(x)) AS n FROM (SELECT unnest(range(3000000)) AS x)" // 24 MB, which cannot be put aside.
	f.runs, f.memory = map[string][]string{"a": {"1"}}, 8<<20
	if res := f.write(t, nil, nil); len(res.Computed) != 2 || len(f.asked) < 2 || f.table(t, "mine_all.csv") != "n\n3000000\n" {
		t.Errorf("%q computed in %d sessions, %v", res.Computed, len(f.asked), res.Problems)
	}
}
