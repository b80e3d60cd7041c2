package fleet

import (
	"os"
	"testing"
)

// The embedded engine keeps a folder among the system's temporary files as long as rows are open, and none behind them; it starts anew for the next.
func TestEmbeddedLeavesNoFolder(t *testing.T) {
	needsLibrary(t)
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	s := openOver(t, aShop(t, 100), Options{})
	for range 2 {
		rows, err := s.Query(t.Context(), "SELECT count(*) FROM samples")
		if err != nil {
			t.Fatal(err)
		}
		if kept := entries(t, temp); kept != 1 {
			t.Errorf("%d folders while rows are open, want the engine's own", kept)
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
		if left := entries(t, temp); left > 0 {
			t.Errorf("%d folders are left", left)
		}
	}
}

func entries(t *testing.T, dir string) int {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	return len(list)
}
