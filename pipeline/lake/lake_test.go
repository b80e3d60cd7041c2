package lake

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// everything lists a folder's files with their content.
func everything(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			all[path] = "folder"
			return nil
		}
		b, err := os.ReadFile(path)
		all[path] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestInit(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a lake with 100% odd#name?")
	if _, err := Open(t.Context(), dir); !errors.Is(err, ErrNoLake) || !strings.Contains(err.Error(), "dynolake init") {
		t.Errorf("open where there is none: %v", err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "config"), 0o755); err != nil {
		t.Fatal(err)
	}
	mine := filepath.Join(dir, "config", "vehicles.yaml")
	if err := os.WriteFile(mine, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	starters := map[string]string{"vehicles.yaml": "starter", "limits.yaml": "limits: []\n", "mappings/example.yaml": "# none\n"}
	created, err := Init(dir, starters)
	if err != nil || !created {
		t.Fatalf("created %v, %v", created, err)
	}
	l := open(t, dir)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
	clean(t, l)
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	before := everything(t, dir)
	if before[mine] != "mine" || before[filepath.Join(dir, "config/mappings/example.yaml")] != "# none\n" || before[filepath.Join(dir, "inbox")] != "folder" {
		t.Errorf("after init: %v", before)
	}
	created, err = Init(dir, map[string]string{"dynos.yaml": "other"})
	if err != nil || created {
		t.Errorf("init again: created %v, %v", created, err)
	}
	if d := cmp.Diff(before, everything(t, dir)); d != "" {
		t.Errorf("init changed an existing lake: %s", d)
	}
}

func TestALakeIsAFolder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "log.csv")
	if err := os.WriteFile(path, []byte("t,n\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, opened := Open(t.Context(), path)
	_, made := Init(path, nil)
	_, rebuilt := Rebuild(t.Context(), path, "test")
	for _, err := range []error{opened, made, rebuilt} {
		if err == nil || !strings.Contains(err.Error(), "found a file") {
			t.Errorf("got %v", err)
		}
	}
}

func TestOpenRefusesANewerFormat(t *testing.T) {
	l := newTestLake(t)
	if _, err := l.db.Exec(`UPDATE meta SET value = '99' WHERE key = 'format'`); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), l.root); err == nil || !strings.Contains(err.Error(), `"99"`) || !strings.Contains(err.Error(), "newer dynolake") {
		t.Errorf("open: %v", err)
	}
}

// A lake is a folder that can be moved.
func TestMovedLake(t *testing.T) {
	l := newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a")}})
	rows := dump(t, l)
	to := l.root + "-elsewhere"
	if err := errors.Join(l.Close(), os.Rename(l.root, to)); err != nil {
		t.Fatal(err)
	}
	moved := open(t, to)
	spotless(t, moved)
	if d := cmp.Diff(rows, dump(t, moved)); d != "" {
		t.Error(d)
	}
}
