package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/pipeline"
	"dynolake/pipeline/lake"
)

// Every repeat but the first comes into the lake, its logs are taken away, and one that cannot be made ends the rest with its reason.
func TestRepeats(t *testing.T) {
	root := filepath.Join(t.TempDir(), "lake")
	if _, err := lake.Init(root, pipeline.Starters()); err != nil {
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
	recipe, err := pipeline.LoadRecipe(filepath.Join(root, "config"))
	if err != nil {
		t.Fatal(err)
	}
	most := 0
	r := repeats{lake: l, writer: w, recipe: &recipe, folder: filepath.Join(root, "demo", "more"), to: 6}
	r.write = func(_ context.Context, dir string, n int) error {
		if n == 8 {
			return errors.New("no room is left")
		}
		list, _ := os.ReadDir(r.folder)
		most = max(most, len(list)+1)
		err := os.MkdirAll(filepath.Join(dir, "logs"), 0o755)
		return errors.Join(err, os.WriteFile(filepath.Join(dir, "logs", "a.csv"), fmt.Appendf(nil, "Time [s],RPM [1/min]\n0,%d\n0.1,800\n", 700+n), 0o644))
	}
	var done pipeline.Result
	steps := 0
	if err := r.run(t.Context(), &done, pipeline.Options{Progress: func(done, total int) {
		if steps++; done != steps || total != 5 {
			t.Errorf("step %d: %d of %d", steps, done, total)
		}
	}}); err != nil {
		t.Fatal(err)
	}
	if done.Count("stored") != 5 || done.Rows != 10 || steps != 5 || most > 3 {
		t.Errorf("%d runs of %d rows in %d steps, want 5 of 10 in 5; %d repeats lay on disk at once, want 3 at the most", done.Count("stored"), done.Rows, steps, most)
	}
	r.to = 10
	if err := r.run(t.Context(), &done, pipeline.Options{}); err == nil || !strings.Contains(err.Error(), "no room is left") {
		t.Errorf("a repeat that cannot be made: %v", err)
	}
	if done.Count("unchanged") < 5 {
		t.Errorf("%d runs of the repeats that were there are unchanged, want 5 at the least", done.Count("unchanged"))
	}
	if _, err := os.Stat(r.folder); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the repeats' folder is left: %v", err)
	}
}
