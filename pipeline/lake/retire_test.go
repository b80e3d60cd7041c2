package lake

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// bare is a run that has rows in few tables only.
func bare(seed uint64, fingerprint string) Entry {
	e := entry(seed, 20, fingerprint)
	e.Segments, e.Curves, e.Unmapped, e.Findings = nil, nil, nil, nil
	return e
}

// A rebuild misses no file that was superseded and swept long ago, whichever files of its commit are left.
func TestRebuildAfterSweeps(t *testing.T) {
	now := noon
	l := newTestLake(t, WithClock(func() time.Time { return now }), WithGrace(time.Minute))
	later := func(b Batch) {
		now = now.Add(time.Hour)
		commitAll(t, l, b)
	}
	later(Batch{Runs: []Entry{entry(1, 20, "a"), bare(2, "a"), bare(3, "a")}})
	later(Batch{Runs: []Entry{bare(2, "b")}})
	later(Batch{Runs: []Entry{bare(3, "b")}})
	later(Batch{Runs: []Entry{bare(2, "c")}})
	later(Batch{Runs: []Entry{bare(4, "a")}})
	later(Batch{Runs: []Entry{bare(5, "a")}})
	rebuilt(t, l)
}

// A retired run is gone from every table, and a lake that never held it is the same; a rebuild does not bring it back.
func TestRetire(t *testing.T) {
	now := noon
	l := newTestLake(t, WithClock(func() time.Time { return now }), WithGrace(time.Minute))
	ids := map[uint64]string{}
	for seed := range uint64(6) {
		ids[seed] = entry(seed, 2, "").Run.ID
	}
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a"), entry(3, 20, "a")}})
	for _, step := range []struct {
		b    Batch
		left []uint64
	}{
		{Batch{Runs: []Entry{entry(4, 20, "a")}, Retire: []string{ids[2], ids[5]}}, []uint64{1, 3, 4}}, // The last was never there.
		{Batch{Retire: []string{ids[1]}}, []uint64{3, 4}},
		{Batch{Retire: []string{ids[4]}}, []uint64{3}},
		{Batch{Runs: []Entry{entry(2, 20, "a")}}, []uint64{3, 2}},
		{Batch{Retire: []string{ids[2], ids[3]}}, nil}, // Nothing is left that could say so.
		{Batch{Retire: []string{ids[2]}}, nil},
	} {
		commitAll(t, l, step.b)
		fresh := newTestLake(t)
		for _, seed := range step.left {
			commitAll(t, fresh, Batch{Runs: []Entry{entry(seed, 20, "a")}})
		}
		if d := cmp.Diff(dump(t, fresh), dump(t, l), cmpopts.EquateEmpty(), cmpopts.IgnoreMapEntries(func(_ string, rows []string) bool { return len(rows) == 0 })); d != "" {
			t.Errorf("%v: %s", step.left, d)
		}
		clean(t, l)
		l = rebuilt(t, l)
	}
	now = now.Add(time.Hour)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
	rebuilt(t, l)
}

func TestRetireRefusesARunOfTheSameCommit(t *testing.T) {
	l := newTestLake(t)
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	e := entry(1, 20, "a")
	err = archiveAndCommit(t.Context(), w, Batch{Runs: []Entry{e}, Retire: []string{e.Run.ID}})
	if check := new(CheckError); !errors.As(err, &check) {
		t.Errorf("got %v", err)
	}
	if err := w.Close(); err != nil {
		t.Error(err)
	}
}

// A damaged file that a rebuild has named once is not missed again by the next, nor is the run that came back.
func TestRebuildForgetsWhatItDropped(t *testing.T) {
	for _, batch := range [][]uint64{{1}, {1, 2, 3}} {
		l := newTestLake(t)
		var b Batch
		for _, seed := range batch {
			b.Runs = append(b.Runs, entry(seed, 20, "a"))
		}
		commitAll(t, l, b)
		want := dump(t, l)
		path := filepath.Join(l.root, snapshot(t, l).Files["samples"][0])
		if err := errors.Join(l.Close(), os.Chmod(path, 0o644), os.Truncate(path, 600)); err != nil {
			t.Fatal(err)
		}
		problems, err := Rebuild(t.Context(), l.root, "test")
		if err != nil || Faults(problems) != 2 {
			t.Fatalf("%v, %v", problems, err)
		}
		again := open(t, l.root)
		again = rebuilt(t, again)
		commitAll(t, again, b)
		again = rebuilt(t, again)
		if d := cmp.Diff(want, dump(t, again)); d != "" {
			t.Errorf("%v: %s", batch, d)
		}
	}
}

// rebuilt makes the catalogue anew and asks that nothing differs.
func rebuilt(t *testing.T, l *Lake) *Lake {
	t.Helper()
	want, rows := catalogueText(t, l), dump(t, l)
	if err := errors.Join(l.Close(), os.Remove(filepath.Join(l.root, catalogueName))); err != nil {
		t.Fatal(err)
	}
	if problems, err := Rebuild(t.Context(), l.root, "test", WithClock(l.clock)); err != nil || Faults(problems) > 0 {
		t.Fatalf("%v, %v", problems, err)
	}
	again := open(t, l.root, WithClock(l.clock), WithGrace(l.grace))
	if d := cmp.Diff(want, catalogueText(t, again)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(rows, dump(t, again)); d != "" {
		t.Error(d)
	}
	clean(t, again)
	return again
}
