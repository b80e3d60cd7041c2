package lake

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A damaged file of each table is set aside: the lake is sound without the runs that had a part in it, says what they depend
// on, and is as before once they are stored again, also after files were merged.
func TestSetAside(t *testing.T) {
	batch := Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a"), entry(3, 20, "a")}}
	for _, large := range []bool{false, true} {
		for _, table := range []string{"runs", "samples", "segments", "curves", "sources", "unmapped", "findings"} {
			l := newTestLake(t)
			commitAll(t, l, batch)
			commitAll(t, l, Batch{Runs: []Entry{entry(4, 20, "a")}})
			want := dump(t, l)
			if large {
				if _, err := compacted(t, l, Compaction{All: true}); err != nil {
					t.Fatal(err)
				}
			}
			path := snapshot(t, l).Files[table][0]
			full := filepath.Join(l.root, path)
			if err := errors.Join(os.Chmod(full, 0o644), os.Truncate(full, 300)); err != nil {
				t.Fatal(err)
			}
			lost := lostFiles(t, l)
			if d := cmp.Diff([]string{path}, lost); d != "" {
				t.Fatalf("%s: lost files: %s", table, d)
			}
			w, err := l.Write(t.Context(), "test")
			if err != nil {
				t.Fatal(err)
			}
			if _, err := w.SetAside(t.Context(), lost); err != nil {
				t.Fatalf("%s: %v", table, err)
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			cleanButAwaiting(t, l)
			waiting, err := l.Awaiting(t.Context())
			if err != nil || len(waiting) == 0 {
				t.Errorf("%s: %d runs wait, %v", table, len(waiting), err)
			}
			for id, k := range waiting {
				if k.Fingerprint != "a" {
					t.Errorf("%s: run %s waits with %+v", table, id, k)
				}
			}
			commitAll(t, l, batch)
			commitAll(t, l, Batch{Runs: []Entry{entry(4, 20, "a")}})
			clean(t, l)
			if d := cmp.Diff(want, dump(t, l)); d != "" {
				t.Errorf("%s: %s", table, d)
			}
		}
	}
}

func lostFiles(t testing.TB, l *Lake) (paths []string) {
	t.Helper()
	problems, err := l.Verify(t.Context(), Checks{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		if p.Lost {
			paths = append(paths, p.Path)
		}
	}
	return paths
}

// A run that is retired while it waits is not made again.
func TestRetireWhileAwaiting(t *testing.T) {
	l := newTestLake(t)
	e := entry(1, 20, "a")
	commitAll(t, l, Batch{Runs: []Entry{e, entry(2, 20, "a")}})
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.SetAside(t.Context(), snapshot(t, l).Files["samples"][:1]); err != nil {
		t.Fatal(err)
	}
	waiting, err := l.Awaiting(t.Context())
	if err != nil || len(waiting) != 1 {
		t.Fatalf("%v, %v", waiting, err)
	}
	for id := range waiting {
		if err := archiveAndCommit(t.Context(), w, Batch{Runs: []Entry{entry(3, 20, "a")}, Retire: []string{id}}); err != nil {
			t.Fatal(err)
		}
	}
	if waiting, err = l.Awaiting(t.Context()); err != nil || len(waiting) != 0 {
		t.Errorf("%v, %v", waiting, err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// An older lake is read as it is, and brought up by its first writer with a copy of the catalogue kept; a failure leaves it.
func TestMigrate(t *testing.T) {
	old := newTestLake(t)
	commitAll(t, old, Batch{Runs: []Entry{entry(1, 20, "a")}})
	for _, statement := range []string{`DROP TABLE awaiting`, `UPDATE meta SET value = '1' WHERE key = 'format'`} {
		if _, err := old.db.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	want := dump(t, old)
	clean(t, old)
	faulty := open(t, old.root, WithDisk(lastFails()))
	if _, err := faulty.Write(t.Context(), "test"); !errors.Is(err, errDisk) {
		t.Errorf("a migration whose commit failed returned %v", err)
	}
	if v, err := old.format(t.Context()); err != nil || v != 1 {
		t.Errorf("after a failed migration the format is %d, %v", v, err)
	}
	commitAll(t, old, Batch{Runs: []Entry{entry(2, 20, "a")}})
	if v, err := old.format(t.Context()); err != nil || v != Format {
		t.Errorf("after a write the format is %d, %v", v, err)
	}
	kept, err := openCatalogue(filepath.Join(old.root, catalogueName+".format-1"))
	if err != nil {
		t.Fatal(err)
	}
	var text string
	if err := kept.QueryRow(`SELECT value || ' ' || (SELECT count(*) FROM runs) FROM meta WHERE key = 'format'`).Scan(&text); err != nil || text != "1 1" {
		t.Errorf("the kept catalogue says %q, %v", text, err)
	}
	if err := kept.Close(); err != nil {
		t.Fatal(err)
	}
	commitAll(t, old, Batch{Retire: []string{entry(2, 2, "").Run.ID}})
	if d := cmp.Diff(want, dump(t, old)); d != "" {
		t.Error(d)
	}
	clean(t, old)
}
