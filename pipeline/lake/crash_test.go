package lake

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk/disktest"
)

// life is what happens to a lake, step by step; each is done when it returns without an error, and can be done again.
func life() []func(context.Context, *Lake) error {
	a, b := entry(1, 20, "a"), entry(2, 20, "a")
	first := Batch{Runs: []Entry{a, b}}
	second := Batch{Runs: []Entry{entry(2, 30, "b"), entry(3, 20, "a")}, Retire: []string{a.Run.ID}}
	for _, l := range []Batch{first, second} {
		for i := range l.Runs { // Fewer tables: the operations of a save are the same in all.
			l.Runs[i].Unmapped, l.Runs[i].Findings, l.Runs[i].Curves = nil, nil, nil
		}
	}
	commit := func(b Batch) func(context.Context, *Lake) error {
		return func(ctx context.Context, l *Lake) error {
			return l.writing(ctx, func(w *Writer) error { return archiveAndCommit(ctx, w, b) })
		}
	}
	return []func(context.Context, *Lake) error{commit(first), commit(second), func(ctx context.Context, l *Lake) error {
		return l.writing(ctx, func(w *Writer) error {
			_, err := w.Compact(ctx, Compaction{All: true})
			return err
		})
	}}
}

func (l *Lake) writing(ctx context.Context, do func(*Writer) error) error {
	w, err := l.Write(ctx, "test")
	if err != nil {
		return err
	}
	return errors.Join(do(w), w.Close())
}

// live does the steps from one on.
func live(t *testing.T, l *Lake, from int, after func(step int)) {
	t.Helper()
	for i, step := range life()[from:] {
		if err := step(t.Context(), l); err != nil {
			t.Fatalf("step %d: %v", from+i, err)
		}
		if after != nil {
			after(from + i + 1)
		}
	}
}

// The power goes after each operation in turn, from the first folder of a lake to its compaction. What comes up again is a
// sound lake as it was before the step under way or after it; it goes on from there and ends as an undisturbed one.
func TestPowerLossAfterEveryOperation(t *testing.T) {
	starters := map[string]string{"vehicles.yaml": "vehicles: []\n"}
	wants := make([]map[string][]string, len(life())+1)
	plain := newTestLake(t, WithDisk(quickDisk()))
	wants[0] = dump(t, plain)
	live(t, plain, 0, func(step int) { wants[step] = dump(t, plain) })

	base := t.TempDir()
	c, err := disktest.NewCrash(base, disktest.Quick())
	if err != nil {
		t.Fatal(err)
	}
	root := filepath.Join(base, "lake")
	done, made, tried := -1, false, 0
	c.Done = func(o disktest.Op) {
		if o.What == "write" {
			return
		}
		tried++
		at := filepath.Join(t.TempDir(), fmt.Sprint(tried))
		if err := c.After(at); err != nil {
			t.Fatal(err)
		}
		survived(t, filepath.Join(at, "lake"), o, made, done, starters, wants)
		if err := os.RemoveAll(at); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Init(root, starters, WithDisk(c.Disk())); err != nil {
		t.Fatal(err)
	}
	made, done = true, 0
	l := open(t, root, WithDisk(c.Disk()))
	live(t, l, 0, func(step int) { done = step })
	if d := cmp.Diff(wants[len(wants)-1], dump(t, l)); d != "" {
		t.Errorf("the lake over the crashing disk: %s", d)
	}
	if tried < 80 {
		t.Errorf("the power went %d times: the test has lost its grip on what is written", tried)
	}
	t.Logf("the power went after each of %d operations", tried)
}

// survived looks at what a loss of power after an operation left, while step done was complete and the next under way.
func survived(t *testing.T, root string, o disktest.Op, made bool, done int, starters map[string]string, wants []map[string][]string) {
	t.Helper()
	l, err := Open(t.Context(), root, WithDisk(quickDisk()), WithClock(func() time.Time { return noon }))
	if errors.Is(err, ErrNoLake) && !made {
		if _, err := Init(root, starters, WithDisk(quickDisk())); err != nil {
			t.Fatalf("power lost after %s: make the lake again: %v", o, err)
		}
		l, err = Open(t.Context(), root, WithDisk(quickDisk()), WithClock(func() time.Time { return noon }))
	}
	if err != nil {
		t.Fatalf("power lost after %s: %v", o, err)
	}
	defer func() { _ = l.Close() }()
	if _, err := os.Stat(filepath.Join(root, "config", "vehicles.yaml")); err != nil {
		t.Errorf("power lost after %s: a lake without its starters: %v", o, err)
	}
	clean(t, l)
	done = max(done, 0)
	got := dump(t, l)
	if !cmp.Equal(got, wants[done]) && (done+1 == len(wants) || !cmp.Equal(got, wants[done+1])) {
		t.Errorf("power lost after %s: the lake is neither as before step %d nor as after it", o, done+1)
	}
	live(t, l, max(done-1, 0), nil) // What was done already changes nothing.
	clean(t, l)
	if d := cmp.Diff(wants[len(wants)-1], dump(t, l)); d != "" {
		t.Errorf("power lost after %s: the lake that went on ends otherwise: %s", o, d)
	}
	if t.Failed() {
		t.FailNow()
	}
}
