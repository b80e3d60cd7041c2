//go:build unix

package sheet

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// A pipe waits for a writer when it is opened: it is refused by name and passed over in a folder, and neither hangs.
func TestPipesAreNotOpened(t *testing.T) {
	dir := t.TempDir()
	pipe := filepath.Join(dir, "live.csv")
	if err := unix.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(dir, "gone"), filepath.Join(dir, "dangling.csv")); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	for path, want := range map[string]string{pipe: "a pipe", "/dev/null": "a device"} {
		found, err := Find(ctx, []string{path}, Options{})
		if err != nil || len(found.Runs) != 0 || len(found.Findings) != 1 || !strings.Contains(found.Findings[0].Text, want) {
			t.Errorf("%s: %+v, %v, want one refusal that says %q", path, found, err, want)
		}
	}
	found, err := Find(ctx, []string{dir}, Options{})
	if err != nil || len(found.Runs) != 0 || len(found.Skipped) != 2 {
		t.Errorf("the folder: %+v, %v, want both passed over", found, err)
	}
}
