package inbox

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"dynolake/pipeline/disk"
)

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// While the inbox is looked at one log grows, one is replaced by another of its size, one comes and one goes; a sheet that grows holds the logs below it.
func TestLook(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{"whole.csv", "grows.csv", "replaced.csv", "goes.csv", "day/runs.csv", "day/held.csv", "day/deep/held.csv", "refused/old.csv", ".hidden", "~$book.xlsx"} {
		put(t, at(name), "x")
	}
	for name, to := range map[string]string{"link.csv": "whole.csv", "out.csv": "/etc/hostname", "loop": "."} {
		if err := os.Symlink(to, at(name)); err != nil {
			t.Fatal(err)
		}
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		time.Sleep(100 * time.Millisecond)
		put(t, at("grows.csv"), "xx")
		put(t, at("new"), "y")
		if err := errors.Join(os.Rename(at("new"), at("replaced.csv")), os.Remove(at("goes.csv"))); err != nil {
			t.Error(err)
		}
		put(t, at("comes.csv"), "x")
		put(t, at("day/runs.csv"), "xx")
	}()
	seen, err := Look(t.Context(), dir, 2*time.Second)
	<-done
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]State{"whole.csv": Ready, "grows.csv": Waiting, "replaced.csv": Waiting, "comes.csv": Waiting, "day/runs.csv": Waiting, "day/held.csv": Waiting, "day/deep/held.csv": Waiting,
		"link.csv": Barred, "out.csv": Barred, "loop": Barred}
	for _, f := range seen.Files {
		if f.State != want[f.Name] {
			t.Errorf("%s is %q (%s), want %q", f.Name, f.State, f.Why, want[f.Name])
		}
		delete(want, f.Name)
	}
	if len(want) > 0 {
		t.Errorf("not seen: %v", want)
	}
	if n := len(seen.Leave()); n != 10 {
		t.Errorf("%d paths are left, want the nine that are not ready and the refused folder: %q", n, seen.Leave())
	}
}

// What was changed since it was looked at stays; what goes takes its empty folders along, and a second refusal of one name finds another.
func TestClear(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{"a/b/taken.csv", "a/b/changed.csv", "c/bad.csv", "refused/c/bad.csv"} {
		put(t, at(name), "x")
	}
	seen, err := Look(t.Context(), dir, time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	put(t, at("a/b/changed.csv"), "another")
	if err := seen.Take(disk.OS(), at("a/b/changed.csv")); !errors.Is(err, ErrChanged) {
		t.Errorf("Take of a changed file: %v", err)
	}
	if err := errors.Join(seen.Take(disk.OS(), at("a/b/taken.csv")), seen.Refuse(disk.OS(), at("c/bad.csv"), "why not")); err != nil {
		t.Fatal(err)
	}
	for name, there := range map[string]bool{"a/b/taken.csv": false, "a/b/changed.csv": true, "c": false, "refused/c/bad.csv": true, "refused/c/bad-2.csv": true} {
		if _, err := os.Lstat(at(name)); (err == nil) != there {
			t.Errorf("%s: %v", name, err)
		}
	}
	if text, err := os.ReadFile(at("refused/c/bad-2.csv.reason.txt")); err != nil || string(text) != "why not\n" {
		t.Errorf("the reason is %q, %v", text, err)
	}
	if err := seen.Take(disk.OS(), at("a/b/taken.csv")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("Take of a file that has gone: %v", err)
	}
	if err := seen.Take(disk.OS(), at("elsewhere.csv")); err == nil {
		t.Error("a file that was not looked at is taken")
	}
	if empty, err := Look(t.Context(), at("none"), time.Hour); err != nil || len(empty.Files) > 0 {
		t.Errorf("a missing inbox: %v, %v", empty, err)
	}
}
