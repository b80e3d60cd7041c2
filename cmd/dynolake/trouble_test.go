package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/disk/disktest"
)

// A folder that cannot be written to ends the command with exit 1 and its name, leaves a sound lake, and once it can be written to the
// command ends as an undisturbed one.
func TestReadOnlyFolders(t *testing.T) {
	tries := map[string]trial{}
	for _, d := range deeds() {
		if d.name != "init" && d.name != "rebuild of a lost catalogue" { // These make the folder.
			tries[d.name] = d.try(t)
		}
	}
	for _, c := range []struct{ deed, folder string }{
		{"ingest", "lake/archive"}, {"ingest", "lake/samples"}, {"ingest", "lake/findings"}, {"compact", "lake/curves"}, {"reprocess", "lake/samples"},
		{"refresh", "lake/inbox"}, {"refresh", "lake/reports"}, {"refresh", "lake/tables"}, {"repair", "lake/runs"}, {"rebuild", "lake"},
		{"publish", "out/samples"}, {"publish as Parquet", "out/_manifests"}, {"publish", "out"},
		{"report", "new"}, {"export", ""}, {"export as MDF", ""}, {"query", ""}, {"plot", ""},
	} {
		tr := tries[c.deed]
		dir := tr.copy(t)
		folder := filepath.Join(dir, c.folder)
		denied := &disktest.Faulty{On: disktest.Quick(), Fail: func(_ int, o disktest.Op) error {
			if strings.HasPrefix(o.Path, folder) && o.What != "syncdir" {
				return syscall.EACCES
			}
			return nil
		}}
		code, said := on(t.Context(), denied.Disk(), tr.command(t, dir)...)
		if code != exitFailed || !strings.Contains(said, folder) || !strings.Contains(said, "permission denied") {
			t.Errorf("%s, %s read-only: exit %d: %s", c.deed, c.folder, code, said)
		}
		if code, said := on(t.Context(), disk.OS(), "verify", "--lake", filepath.Join(dir, "lake")); code != 0 && !tr.unsaid {
			t.Errorf("%s, %s read-only: verify exits with %d: %s", c.deed, c.folder, code, said)
		}
		if code, said := on(t.Context(), disk.OS(), tr.command(t, dir)...); code != tr.code && code != 0 {
			t.Errorf("%s, %s writable again: exit %d: %s", c.deed, c.folder, code, said)
			continue
		}
		if diff := cmp.Diff(tr.rows, tr.look(t, dir)); diff != "" {
			t.Errorf("%s, %s writable again: it comes to something else: %s", c.deed, c.folder, diff)
		}
	}
}

// A large log that is written to while it is archived is set aside as such and taken in the next time; a small one, which is
// in memory by then, is taken in as it was read, and so is one that is replaced by another file of its name.
func TestSourceReplacedWhileItIsRead(t *testing.T) {
	grow := func(path string) error {
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
		if err != nil {
			return err
		}
		if _, err := io.WriteString(f, "9,4000,100,200,100,50,100\n"); err != nil {
			return err
		}
		return f.Close()
	}
	var large strings.Builder // Larger than what is held in memory, by a long note in each row.
	large.WriteString("Time [s],Engine speed [1/min],Note\n")
	for i := range 9000 {
		fmt.Fprintf(&large, "%.2f,%d,%s\n", float64(i)/100, 1000+i%3000, strings.Repeat("x", 1000))
	}
	for _, c := range []struct {
		name   string
		log    string
		change func(path string) error
		code   int
		said   string
	}{
		{"large, written to", large.String(), grow, exitSetAside, "it changed while it was read"},
		{"small, written to", pullLog(9), grow, 0, "1 run stored"},
		{"replaced", pullLog(9), func(path string) error {
			if err := os.WriteFile(path+"~", []byte(pullLog(50)), 0o644); err != nil {
				return err
			}
			return os.Rename(path+"~", path)
		}, 0, "1 run stored"},
	} {
		dir := t.TempDir()
		tinyLake(t, dir)
		log := filepath.Join(dir, "log.csv")
		putText(t, log, c.log)
		var changed atomic.Bool
		d := &disktest.Faulty{On: disktest.Quick(), Fail: func(_ int, o disktest.Op) error {
			if o.What == "create" && strings.Contains(o.Path, "/archive/") && changed.CompareAndSwap(false, true) {
				return c.change(log)
			}
			return nil
		}}
		args := []string{"ingest", log, "--lake", filepath.Join(dir, "lake")}
		code, said := on(t.Context(), d.Disk(), args...)
		if code != c.code || !strings.Contains(said, c.said) || !changed.Load() {
			t.Errorf("%s: exit %d: %s", c.name, code, said)
		}
		if code, said := on(t.Context(), disk.OS(), "verify", "--lake", filepath.Join(dir, "lake")); code != 0 {
			t.Errorf("%s: verify exits with %d: %s", c.name, code, said)
		}
		if code, said := on(t.Context(), disk.OS(), args...); code != 0 || !strings.Contains(said, "1 run stored") {
			t.Errorf("%s: the next time: exit %d: %s", c.name, code, said)
		}
	}
}

// A lake that is copied or moved as a folder is the same lake.
func TestMovedLake(t *testing.T) {
	dir := t.TempDir()
	tinyLake(t, dir)
	was, err := rowsOf(t.Context(), filepath.Join(dir, "lake"))
	if err != nil {
		t.Fatal(err)
	}
	moved := filepath.Join(dir, "elsewhere", "moved")
	if err := os.CopyFS(moved, os.DirFS(filepath.Join(dir, "lake"))); err != nil {
		t.Fatal(err)
	}
	for i, root := range []string{moved, moved + "-without-catalogue"} {
		verify := []string{"verify", "--lake", root}
		if i == 1 { // A copy that lacks the catalogue, as one that was made while a command wrote may do.
			if err := os.Rename(moved, root); err != nil {
				t.Fatal(err)
			}
			if err := os.Remove(filepath.Join(root, "catalogue.db")); err != nil {
				t.Fatal(err)
			}
			verify = append(verify, "--rebuild")
		}
		if code, said := on(t.Context(), disk.OS(), verify...); code != 0 {
			t.Errorf("%q: exit %d: %s", verify, code, said)
		}
		is, err := rowsOf(t.Context(), root)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(was, is); diff != "" {
			t.Errorf("%s: %s", fmt.Sprint(verify), diff)
		}
	}
}
