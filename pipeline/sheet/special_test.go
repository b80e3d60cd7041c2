//go:build unix

package sheet

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
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
	if err != nil || len(found.Runs) != 0 || len(found.Findings) != 2 {
		t.Errorf("the folder: %+v, %v, want both set aside", found, err)
	}
}

// A link is followed within the named folder and nowhere else; a circle of links and a folder named like a log harm nothing.
func TestLinksStayInTheFolder(t *testing.T) {
	outside, dir := t.TempDir(), t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, path := range []string{filepath.Join(outside, "secret.csv"), at("log.csv")} {
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(at("folder.csv"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, to := range map[string]string{
		"in.csv": "log.csv", "out.csv": filepath.Join(outside, "secret.csv"), "up.csv": "../" + filepath.Base(outside) + "/secret.csv", "far": outside, "self": ".",
		"a.csv": "b.csv", "b.csv": "a.csv", "zero.csv": "/dev/zero",
	} {
		if err := os.Symlink(to, at(name)); err != nil {
			t.Fatal(err)
		}
	}
	found, err := Find(t.Context(), []string{dir}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var runs []string
	for _, r := range found.Runs {
		runs = append(runs, r.Files[0].Name)
	}
	if d := cmp.Diff([]string{"in.csv", "log.csv"}, runs); d != "" {
		t.Errorf("runs: %s", d)
	}
	codes := map[string]string{}
	for _, f := range found.Findings {
		codes[filepath.Base(f.Source)] = f.Code
	}
	want := map[string]string{"out.csv": "path_leads_out", "up.csv": "path_leads_out", "far": "path_leads_out", "zero.csv": "path_leads_out", "a.csv": "path_unreadable", "b.csv": "path_unreadable"}
	if d := cmp.Diff(want, codes); d != "" {
		t.Errorf("set aside: %s", d)
	}
	if found, err := Find(t.Context(), []string{at("out.csv")}, Options{}); err != nil || len(found.Runs) != 1 {
		t.Errorf("a link that the user names is followed: %+v, %v", found, err)
	}
}
