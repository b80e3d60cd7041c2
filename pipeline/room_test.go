package pipeline

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"dynolake/pipeline/lake"

	"golang.org/x/sync/errgroup"
)

// Works under way never need more together than there is, one that needs more than all goes alone, and a wait ends with the context.
func TestRoom(t *testing.T) {
	const budget = 100
	r := newRoom(budget, &pace{})
	var taken, most atomic.Int64
	var work errgroup.Group
	for i := range 60 {
		need := int64(1 + 37*i%140)
		work.Go(func() error {
			return r.work(t.Context(), need, func() error {
				now := taken.Add(min(need, budget))
				for was := most.Load(); now > was && !most.CompareAndSwap(was, now); was = most.Load() {
				}
				time.Sleep(time.Millisecond)
				taken.Add(-min(need, budget))
				return nil
			})
		})
	}
	if err := work.Wait(); err != nil || most.Load() > budget {
		t.Errorf("works took %d together, want %d at the most; %v", most.Load(), budget, err)
	}
	err := r.work(t.Context(), budget, func() error {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		return r.work(ctx, 1, func() error { return errors.New("there was no room") })
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("a wait for room that was cancelled: %v", err)
	}
}

// Runs that wait for a commit count too: in a small budget each is committed by itself, and all of them land.
func TestWaitingRunsAreBounded(t *testing.T) {
	root, logs := filepath.Join(t.TempDir(), "lake"), t.TempDir()
	for i := range 5 {
		if err := os.WriteFile(filepath.Join(logs, fmt.Sprintf("log%d.csv", i)), fmt.Appendf(nil, "Time [s],RPM [1/min]\n0,%d\n0.1,801\n", 700+i), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := lake.Init(root, Starters()); err != nil {
		t.Fatal(err)
	}
	l, err := lake.Open(t.Context(), root)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = w.Close() }()
	recipe, err := LoadRecipe(filepath.Join(root, "config"))
	if err != nil {
		t.Fatal(err)
	}
	done, err := Ingest(t.Context(), l, w, &recipe, []string{logs}, Options{Memory: 64})
	if err != nil || done.Count("stored") != 5 {
		t.Fatalf("stored %d runs, want 5: %v", done.Count("stored"), err)
	}
	if snap, err := l.Snapshot(t.Context()); err != nil || snap.ID != 5 {
		t.Errorf("5 runs came in %d commits, want 5: %v", snap.ID, err)
	}
}
