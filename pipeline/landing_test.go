package pipeline_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"testing"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"
)

// A batch fills while the one before it is stored, and one that is full waits for it: whichever job is the one to store, each run lands once.
func TestBatchesFollowEachOther(t *testing.T) {
	s := newShop(t)
	const n = 40
	for i := range n {
		s.log(fmt.Sprintf("log%02d.csv", i), i)
	}
	l, err := lake.Open(t.Context(), s.lake)
	if err != nil {
		t.Fatal(err)
	}
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	recipe, err := pipeline.LoadRecipe(filepath.Join(s.lake, "config"))
	if err != nil {
		t.Fatal(err)
	}
	done, err := pipeline.Ingest(t.Context(), l, w, &recipe, []string{s.logs}, pipeline.Options{Memory: 4 << 10}) // Of which a sixteenth is less than a run.
	if err != nil || done.Count("stored") != n || done.Rows != 8*n {
		t.Errorf("stored %d runs of %d rows: %v", done.Count("stored"), done.Rows, err)
	}
	snap, err := l.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if got := len(snap.Files["runs"]); got < n/8 {
		t.Errorf("%d commits: too few to follow each other", got)
	}
	runs, err := l.Runs(t.Context())
	if err := errors.Join(err, w.Close(), l.Close()); err != nil || len(runs) != n {
		t.Errorf("%d runs: %v", len(runs), err)
	}
}
