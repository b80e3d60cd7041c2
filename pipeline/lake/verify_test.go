package lake

import (
	"database/sql"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dynolake/pipeline/disk"

	"github.com/google/go-cmp/cmp"
)

// damaged makes a lake of three runs, and gives the files to damage.
func damaged(t *testing.T) (l *Lake, samples, curves, blob string) {
	t.Helper()
	l = newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a"), entry(3, 20, "a")}})
	s := snapshot(t, l)
	return l, s.Files["samples"][0], s.Files["curves"][0], blobPath(entry(1, 5, "").Sources[0].SHA256)
}

// Each kind of damage is named with its file and what it costs.
func TestVerifyNamesDamage(t *testing.T) {
	read := func(l *Lake, path string) []byte {
		b, err := os.ReadFile(filepath.Join(l.root, path))
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	put := func(l *Lake, path string, b []byte) { overwrite(t, filepath.Join(l.root, path), b) }
	for name, c := range map[string]struct {
		do    func(l *Lake, samples, curves, blob string) string // Returns the path to be named.
		what  string
		cost  string
		quick bool // A quick look finds it too.
	}{
		"missing samples": {func(l *Lake, s, _, _ string) string { return remove(t, l, s) }, "missing", "costs the samples of run", true},
		"missing curves":  {func(l *Lake, _, c, _ string) string { return remove(t, l, c) }, "missing", "costs the curves of run", true},
		"truncated":       {func(l *Lake, s, _, _ string) string { put(l, s, read(l, s)[:500]); return s }, "has 500 bytes", "costs the samples", true},
		"one bit":         {func(l *Lake, s, _, _ string) string { put(l, s, flip(read(l, s))); return s }, "has SHA-256", "costs the samples", false},
		"swapped": {func(l *Lake, s, _, _ string) string {
			other := snapshot(t, l).Files["samples"][1]
			a, b := read(l, s), read(l, other)
			put(l, s, b)
			put(l, other, a)
			return s
		}, "it says that it is a file of samples", "costs the samples", true},
		"foreign": {func(l *Lake, _, _, _ string) string {
			if err := os.WriteFile(filepath.Join(l.root, "samples/mine.parquet"), []byte("PAR1"), 0o644); err != nil {
				t.Fatal(err)
			}
			return "samples/mine.parquet"
		}, "no part of the lake", "costs nothing", true},
		"missing blob": {func(l *Lake, _, _, b string) string { return remove(t, l, b) }, "missing", "costs", true},
		"damaged blob": {func(l *Lake, _, _, b string) string { put(l, b, flip(read(l, b))); return b }, "damaged", "costs source bytes of run", false},
		"swapped blob": {func(l *Lake, _, _, b string) string {
			put(l, b, read(l, blobPath(entry(2, 5, "").Sources[0].SHA256)))
			return b
		}, "damaged", "costs source bytes", false},
	} {
		t.Run(name, func(t *testing.T) {
			l, samples, curves, blob := damaged(t)
			spotless(t, l)
			path := c.do(l, samples, curves, blob)
			full, err := l.Verify(t.Context(), Checks{})
			if err != nil {
				t.Fatal(err)
			}
			i := slices.IndexFunc(full, func(p Problem) bool { return p.Path == path })
			if i < 0 || full[i].Note || !strings.Contains(full[i].What, c.what) || !strings.Contains(full[i].Cost, c.cost) {
				t.Errorf("want %q and %q of %s, got %v", c.what, c.cost, path, full)
			}
			quick, err := l.Verify(t.Context(), Checks{Quick: true})
			if err != nil || (Faults(quick) > 0) != c.quick {
				t.Errorf("a quick look finds %v, %v; want something: %v", quick, err, c.quick)
			}
		})
	}
}

func remove(t *testing.T, l *Lake, path string) string {
	t.Helper()
	if err := os.Remove(filepath.Join(l.root, path)); err != nil {
		t.Fatal(err)
	}
	return path
}

// What an interrupted save leaves is named, is no fault, and goes with the next writer.
func TestLeftOversAreNotes(t *testing.T) {
	l, samples, _, _ := damaged(t)
	orphan := strings.Replace(samples, samples[len(samples)-24:], "0123456789abcdef.parquet", 1)
	paths := []string{"samples/" + disk.TempPrefix + "1", "archive/" + disk.TempPrefix + "2", orphan}
	for _, p := range paths {
		if err := os.WriteFile(filepath.Join(l.root, p), []byte("half"), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(filepath.Join(l.root, p), noon.AddDate(0, 0, -1), noon.AddDate(0, 0, -1)); err != nil {
			t.Fatal(err)
		}
	}
	problems, err := l.Verify(t.Context(), Checks{})
	if err != nil || Faults(problems) > 0 {
		t.Fatalf("%v, %v", problems, err)
	}
	for _, p := range paths {
		if !slices.ContainsFunc(problems, func(q Problem) bool { return q.Path == p && q.Note }) {
			t.Errorf("%s is not named: %v", p, problems)
		}
	}
	archive(t, l, "any")
	for _, p := range paths {
		if _, err := os.Stat(filepath.Join(l.root, p)); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s is still there", p)
		}
	}
}

// catalogueText gives what the catalogue holds of the present.
func catalogueText(t *testing.T, l *Lake) []string {
	t.Helper()
	var lines []string
	for _, q := range []string{
		`SELECT 'snapshot|' || id || '|' || name FROM snapshots WHERE id = (SELECT max(id) FROM snapshots)`,
		`SELECT 'file|' || path || '|' || tbl || '|' || month || '|' || sha256 || '|' || bytes || '|' || rows || '|' || added FROM files WHERE removed IS NULL`,
		`SELECT 'owner|' || o.owner || '|' || o.path || '|' || o.rows FROM owners AS o JOIN files AS f ON f.path = o.path WHERE f.removed IS NULL`,
		`SELECT 'run|' || run_id || '|' || fingerprint || '|' || depends FROM runs`,
		`SELECT 'refusal|' || sha256 || '|' || digest FROM refusals`,
		`SELECT 'blob|' || sha256 || '|' || bytes || '|' || stored FROM blobs`,
	} {
		err := query(t.Context(), l.db, func(r *sql.Rows) error {
			var line string
			err := r.Scan(&line)
			lines = append(lines, line)
			return err
		}, q)
		if err != nil {
			t.Fatal(err)
		}
	}
	slices.Sort(lines)
	return lines
}

// busy makes a lake with a past: replaced runs, refusals that came and went.
func busy(t *testing.T) *Lake {
	t.Helper()
	l := newTestLake(t)
	for i, b := range []Batch{
		{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a"), entry(3, 20, "a")}},
		{Runs: []Entry{entry(2, 25, "b"), entry(4, 20, "a")}},
		{Loose: []Refusal{{SHA256: entry(5, 2, "").Sources[0].SHA256, Findings: invent(5, 2).Findings}, {SHA256: entry(6, 2, "").Sources[0].SHA256, Findings: invent(6, 2).Findings}}},
		{Runs: []Entry{entry(5, 20, "a"), entry(2, 22, "c")}},
		{Runs: []Entry{entry(1, 20, "b"), entry(3, 21, "b")}},
	} {
		for j := range b.Loose {
			for k := range b.Loose[j].Findings {
				b.Loose[j].Findings[k].RunID = ""
			}
		}
		if i == 2 {
			archive(t, l, "bytes5")
			archive(t, l, "bytes6")
		}
		commitAll(t, l, b)
	}
	spotless(t, l)
	return l
}

// A catalogue made anew equals the old one, whether the old is gone, damaged or there.
func TestRebuildGivesTheSameCatalogue(t *testing.T) {
	for name, spoil := range map[string]func(path string) error{
		"gone":      os.Remove,
		"damaged":   func(path string) error { return os.WriteFile(path, []byte("nonsense that is no database"), 0o644) },
		"there":     func(string) error { return nil },
		"truncated": func(path string) error { return os.Truncate(path, 5000) },
	} {
		l := busy(t)
		want, rows := catalogueText(t, l), dump(t, l)
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
		if err := spoil(filepath.Join(l.root, catalogueName)); err != nil {
			t.Fatal(err)
		}
		if name == "gone" || name == "damaged" {
			if _, err := Open(t.Context(), l.root); err == nil || !strings.Contains(err.Error(), "--rebuild") {
				t.Errorf("%s: open says %v", name, err)
			}
		}
		problems, err := Rebuild(t.Context(), l.root, "test")
		if err != nil || len(problems) > 0 {
			t.Fatalf("%s: %v, %v", name, problems, err)
		}
		again := open(t, l.root)
		if d := cmp.Diff(want, catalogueText(t, again)); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		if d := cmp.Diff(rows, dump(t, again)); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		clean(t, again)
	}
}

// A rebuild over lost and damaged files keeps the whole runs, names the others, and a later commit brings those back.
func TestRebuildDropsWhatIsNotWhole(t *testing.T) {
	for name, spoil := range map[string]func(path string) error{
		"lost":    os.Remove,
		"damaged": func(path string) error { return errors.Join(os.Chmod(path, 0o644), os.Truncate(path, 600)) },
	} {
		for _, table := range []string{"samples", "segments", "curves", "sources", "runs"} {
			l := newTestLake(t)
			one, two := Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a")}}, Batch{Runs: []Entry{entry(3, 20, "a"), entry(4, 20, "a")}}
			commitAll(t, l, one)
			commitAll(t, l, two)
			want := dump(t, l)
			files := snapshot(t, l).Files[table]
			if err := errors.Join(l.Close(), spoil(filepath.Join(l.root, files[0]))); err != nil {
				t.Fatal(err)
			}
			problems, err := Rebuild(t.Context(), l.root, "test", WithClock(l.clock))
			if err != nil || Faults(problems) == 0 {
				t.Errorf("%s %s: %v, %v", name, table, problems, err)
			}
			again := open(t, l.root)
			cleanButAwaiting(t, again)
			runs, err := again.Runs(t.Context())
			if err != nil || len(runs) < 2 || len(runs) > 3 {
				t.Errorf("%s %s: runs %v, %v", name, table, slices.Collect(maps.Keys(runs)), err)
			}
			commitAll(t, again, one)
			commitAll(t, again, two)
			clean(t, again)
			if d := cmp.Diff(want, dump(t, again)); d != "" {
				t.Errorf("%s %s: %s", name, table, d)
			}
		}
	}
}

// cleanButAwaiting asks that nothing be wrong but that each run which was set aside is still to be made again.
func cleanButAwaiting(t testing.TB, l *Lake) {
	t.Helper()
	waiting, err := l.Awaiting(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	problems, err := l.Verify(t.Context(), Checks{})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, p := range problems {
		if p.Wait {
			n++
		} else if !p.Note {
			t.Errorf("verify: %s", p)
		}
	}
	if n != len(waiting) {
		t.Errorf("verify names %d runs that wait, %d do", n, len(waiting))
	}
}
