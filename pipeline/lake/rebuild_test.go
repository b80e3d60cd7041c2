package lake

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sync/errgroup"
)

// failLast tries a batch whose last step fails: all its files are there and no snapshot names them.
func failLast(t *testing.T, l *Lake, b Batch) {
	t.Helper()
	faulty := open(t, l.root, WithDisk(lastFails()))
	w, err := faulty.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	if err := archiveAndCommit(t.Context(), w, b); !errors.Is(err, errDisk) {
		t.Fatalf("commit: %v", err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// A rebuild tells interrupted commits, even those that had written all their files, from the ones that took their place.
func TestRebuildLeavesInterruptedCommitsOut(t *testing.T) {
	l := newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a")}})
	failLast(t, l, Batch{Runs: []Entry{entry(1, 22, "lost"), entry(3, 20, "lost")}})
	commitAll(t, l, Batch{Runs: []Entry{entry(2, 24, "b")}})
	commitAll(t, l, Batch{Runs: []Entry{entry(4, 20, "a"), entry(3, 20, "a")}})
	want, rows := catalogueText(t, l), dump(t, l)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if problems, err := Rebuild(t.Context(), l.root, "test"); err != nil || Faults(problems) > 0 {
		t.Fatalf("%v, %v", problems, err)
	}
	again := open(t, l.root)
	if d := cmp.Diff(want, catalogueText(t, again)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(rows, dump(t, again)); d != "" {
		t.Error(d)
	}
	clean(t, again)
}

// Of the newest commit that was interrupted at its very last step a rebuild makes a whole one or none.
func TestRebuildAfterAnInterruptedLastStep(t *testing.T) {
	l := newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a")}})
	b := Batch{Runs: []Entry{entry(1, 22, "b"), entry(3, 20, "a")}}
	failLast(t, l, b)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if problems, err := Rebuild(t.Context(), l.root, "test"); err != nil || Faults(problems) > 0 {
		t.Fatalf("%v, %v", problems, err)
	}
	again := open(t, l.root)
	clean(t, again)
	commitAll(t, again, b)
	fresh := newTestLake(t)
	commitAll(t, fresh, Batch{Runs: append([]Entry{entry(2, 20, "a")}, b.Runs...)})
	if d := cmp.Diff(dump(t, fresh), dump(t, again)); d != "" {
		t.Error(d)
	}
}

func TestRebuildWantsALake(t *testing.T) {
	if _, err := Rebuild(t.Context(), t.TempDir(), "test"); !errors.Is(err, ErrNoLake) {
		t.Errorf("rebuild of any folder: %v", err)
	}
}

// Several goroutines may archive and commit through one writer.
func TestWriterSharedByGoroutines(t *testing.T) {
	l := newTestLake(t)
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	var work errgroup.Group
	for seed := range uint64(6) {
		work.Go(func() error {
			if _, err := w.Archive(t.Context(), strings.NewReader(fmt.Sprint("shared", seed%2))); err != nil {
				return err
			}
			return archiveAndCommit(t.Context(), w, Batch{Runs: []Entry{entry(seed, 20, "a")}})
		})
	}
	if err := errors.Join(work.Wait(), w.Close()); err != nil {
		t.Fatal(err)
	}
	if runs, err := l.Runs(t.Context()); err != nil || len(runs) != 6 {
		t.Errorf("%d runs, %v", len(runs), err)
	}
	clean(t, l)
}
