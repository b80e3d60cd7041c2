package lake

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// shop is a lake of n small commits.
func shop(t testing.TB, n int) *Lake {
	t.Helper()
	l := newTestLake(t)
	for i := range n {
		commitAll(t, l, Batch{Runs: []Entry{entry(uint64(i+1), 20+i, "a")}})
	}
	return l
}

// compacted runs a compaction with a writer of its own.
func compacted(t testing.TB, l *Lake, c Compaction) (Compacted, error) {
	t.Helper()
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}()
	return w.Compact(t.Context(), c)
}

func TestCompactKeepsEveryRow(t *testing.T) {
	l := shop(t, 40)
	want := dump(t, l)
	before := snapshot(t, l)
	done, err := compacted(t, l, Compaction{All: true})
	if err != nil {
		t.Fatal(err)
	}
	after := snapshot(t, l)
	if n := len(after.Files["curves"]); n != 1 || done.Before < 40 {
		t.Errorf("curves lie in %d files after %+v, want 1", n, done)
	}
	if len(after.Files["samples"]) >= len(before.Files["samples"])/2 {
		t.Errorf("samples lie in %d files, before in %d", len(after.Files["samples"]), len(before.Files["samples"]))
	}
	if diff := cmp.Diff(want, dump(t, l)); diff != "" {
		t.Errorf("rows changed (-before +after):\n%s", diff)
	}
	clean(t, l)
	if again, err := compacted(t, l, Compaction{All: true}); err != nil || again.Before != 0 {
		t.Errorf("a second compaction did %+v, %v, want nothing to do", again, err)
	}
	if diff := cmp.Diff(want, dump(t, rebuilt(t, l))); diff != "" {
		t.Errorf("the rebuilt catalogue has other rows (-want +got):\n%s", diff)
	}
}

// Runs of one platform and vehicle lie together, in the order of their start, each whole.
func TestCompactOrdersRuns(t *testing.T) {
	l := shop(t, 30)
	if _, err := compacted(t, l, Compaction{All: true}); err != nil {
		t.Fatal(err)
	}
	s := snapshot(t, l)
	order, err := l.runOrder(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range s.Files["samples"] {
		chapters, err := chaptersOf(t.Context(), 0, filepath.Join(l.root, path))
		if err != nil {
			t.Fatal(err)
		}
		if !slices.IsSortedFunc(chapters, func(a, b chapter) int { return order[a.owner] - order[b.owner] }) {
			t.Errorf("%s has its runs out of order: %v", path, chapters)
		}
		owners := map[string]bool{}
		for _, c := range chapters {
			if owners[c.owner] && c.lo == 0 {
				continue // A row group may end within a run.
			}
			if owners[c.owner] {
				t.Errorf("%s has run %s in two places", path, c.owner)
			}
			owners[c.owner] = true
		}
	}
}

// Without All, only a class of many small files is worth it.
func TestCompactWhereItPays(t *testing.T) {
	l := shop(t, many-1)
	if done, err := compacted(t, l, Compaction{}); err != nil || done.Before != 0 {
		t.Errorf("%d commits: %+v, %v, want nothing done", many-1, done, err)
	}
	commitAll(t, l, Batch{Runs: []Entry{entry(900, 20, "a")}})
	done, err := compacted(t, l, Compaction{})
	if err != nil || done.Before == 0 {
		t.Errorf("%d commits: %+v, %v, want them merged", many, done, err)
	}
	clean(t, l)
}

// A target bounds what a merge makes.
func TestCompactFillsToTheTarget(t *testing.T) {
	l := shop(t, 40)
	const target = 100 << 10
	if _, err := compacted(t, l, Compaction{All: true, Target: target}); err != nil {
		t.Fatal(err)
	}
	for _, f := range snapshot(t, l).Files["samples"] {
		info, err := os.Stat(filepath.Join(l.root, f))
		if err != nil {
			t.Fatal(err)
		}
		if info.Size() > target*5/4 { // The union of columns may take a little more than the parts.
			t.Errorf("%s has %d bytes, want about %d at most", f, info.Size(), target)
		}
	}
	clean(t, l)
}

// A run that is replaced or retired leaves a large file like a small one.
func TestReplaceWithinALargeFile(t *testing.T) {
	l := shop(t, 12)
	if _, err := compacted(t, l, Compaction{All: true}); err != nil {
		t.Fatal(err)
	}
	last := Batch{Runs: []Entry{entry(3, 25, "b")}, Retire: []string{entry(5, 2, "").Run.ID}}
	commitAll(t, l, last)
	clean(t, l)
	plain := shop(t, 12)
	commitAll(t, plain, last)
	if diff := cmp.Diff(dump(t, plain), dump(t, l)); diff != "" {
		t.Errorf("rows differ from a lake that was never compacted (-plain +compacted):\n%s", diff)
	}
	if diff := cmp.Diff(dump(t, l), dump(t, rebuilt(t, l))); diff != "" {
		t.Errorf("the rebuilt catalogue has other rows (-want +got):\n%s", diff)
	}
}

func TestCompactIsCancelled(t *testing.T) {
	l := shop(t, 5)
	want := dump(t, l)
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := w.Compact(ctx, Compaction{All: true}); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled compaction returned %v", err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, dump(t, l)); diff != "" {
		t.Error(diff)
	}
	clean(t, l)
}

// Each operation of a compaction is made to fail in turn: the error says so, the rows stay, the lake is sound, and the next
// try ends as an undisturbed one.
func TestEveryOperationOfACompactionMayFail(t *testing.T) {
	prepared := shop(t, 3)
	want := dump(t, prepared)
	if err := prepared.Close(); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for k := 1; ; k++ {
		dir := filepath.Join(t.TempDir(), "lake")
		if err := os.CopyFS(dir, os.DirFS(prepared.root)); err != nil {
			t.Fatal(err)
		}
		d := newFailAt(k)
		_, err := compacted(t, open(t, dir, WithDisk(d.Disk())), Compaction{All: true})
		if d.failed == "" {
			if err != nil {
				t.Fatalf("undisturbed compaction failed: %v", err)
			}
			break
		}
		seen[d.failed] = true
		if !errors.Is(err, errDisk) {
			t.Errorf("operation %d (%s): error is %v", k, d.failed, err)
		}
		l := open(t, dir)
		if diff := cmp.Diff(want, dump(t, l)); diff != "" {
			t.Errorf("operation %d (%s): rows changed:\n%s", k, d.failed, diff)
		}
		clean(t, l)
		if _, err := compacted(t, l, Compaction{All: true}); err != nil {
			t.Errorf("operation %d (%s): the next try failed: %v", k, d.failed, err)
		}
		if n := len(snapshot(t, l).Files["curves"]); n != 1 {
			t.Errorf("operation %d (%s): after the next try curves lie in %d files", k, d.failed, n)
		}
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for _, what := range []string{"create", "write", "sync", "close", "rename", "syncdir", "commit"} {
		if !seen[what] {
			t.Errorf("no %s was made to fail", what)
		}
	}
}

// A footer that would be long is packed, and reads the same.
func TestLongFootersArePacked(t *testing.T) {
	l := shop(t, 60)
	if _, err := compacted(t, l, Compaction{All: true}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(l.root, snapshot(t, l).Files["runs"][0])
	facts, err := without{path: path}.facts()
	if err != nil || len(facts) != 60 {
		t.Fatalf("%d owners, %v, want 60", len(facts), err)
	}
	plainKey, _, err := pack(keyOwners, []byte("[]"))
	if err != nil || plainKey != keyOwners {
		t.Errorf("a short text lies under %q, %v", plainKey, err)
	}
	for owner, f := range facts {
		if f.Fingerprint == "" || f.Rows != 1 || f.Owner != owner {
			t.Errorf("owner %s reads back as %+v", owner, f)
		}
	}
}

// A merge holds a row group of each of its files: however many small files there are, each merge stays within its memory, save that two files are always merged.
func TestBundle(t *testing.T) {
	var files []fileFact
	for i := range 100 {
		files = append(files, fileFact{Path: fmt.Sprint(i), Bytes: 1 << 20, Rows: 10_000})
	}
	one := files[0].held()
	for name, c := range map[string]struct {
		Compaction
		groups, largest int
	}{
		"enough":     {Compaction{Target: 1 << 40, Memory: 1 << 40}, 1, 100},
		"of a size":  {Compaction{Target: 10 << 20, Memory: 1 << 40}, 10, 10},
		"of memory":  {Compaction{Target: 1 << 40, Memory: 5 * one}, 20, 5},
		"not enough": {Compaction{Target: 1 << 40, Memory: 1}, 50, 2},
	} {
		groups := bundle(files, c.Compaction)
		all, largest := 0, 0
		for _, g := range groups {
			all, largest = all+len(g), max(largest, len(g))
		}
		if len(groups) != c.groups || largest != c.largest || all != len(files) {
			t.Errorf("%s: %d groups of at most %d, %d files in all, want %d of %d", name, len(groups), largest, all, c.groups, c.largest)
		}
	}
	if large := (fileFact{Bytes: 100 << 20, Rows: 1 << 20}); large.held() >= 4*large.Bytes {
		t.Errorf("a file of many row groups is counted whole: %d", large.held())
	}
}
