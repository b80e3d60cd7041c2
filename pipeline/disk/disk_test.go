package disk_test

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/disk/disktest"
)

var errDisk = errors.New("the disk said no")

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

func content(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		files[strings.TrimPrefix(path, dir)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// Each operation of a Save fails in turn: the old file is there and nothing else, save after the last, the fsync of the folder.
func TestSaveFailing(t *testing.T) {
	var ops []string
	for k := 1; ; k++ {
		dir := t.TempDir()
		path := filepath.Join(dir, "a", "file")
		if err := disk.OS().Save(path, 0o644, text("old")); err != nil {
			t.Fatal(err)
		}
		failed := ""
		d := &disktest.Faulty{On: disk.OS(), Fail: func(n int, o disktest.Op) error {
			if n == k {
				failed = o.What
				return errDisk
			}
			return nil
		}}
		err := d.Disk().Save(path, 0o644, text("new and longer"))
		if failed == "" {
			if err != nil {
				t.Error(err)
			}
			break
		}
		ops = append(ops, failed)
		if !errors.Is(err, errDisk) || !strings.Contains(err.Error(), failed) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v", failed, err)
		}
		want := "old"
		if failed == "syncdir" {
			want = "new and longer"
		}
		if got := content(t, dir); len(got) != 1 || got["/a/file"] != want {
			t.Errorf("%s: left %q", failed, got)
		}
	}
	if got := strings.Join(ops, " "); got != "create write sync close rename syncdir" {
		t.Errorf("a Save is %s", got)
	}
}

// A writer's error and a short write are errors, and leave nothing.
func TestSaveOfHalf(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "file")
	half := func(w io.Writer) error { return errors.Join(text("half")(w), errDisk) }
	if err := disk.OS().Save(path, 0o644, half); !errors.Is(err, errDisk) {
		t.Error(err)
	}
	if err := (disk.Disk{Ops: short{disk.OS()}}).Save(path, 0o644, text("content")); !errors.Is(err, io.ErrShortWrite) {
		t.Error(err)
	}
	if got := content(t, dir); len(got) > 0 {
		t.Errorf("left %q", got)
	}
}

// short writes less than it is given and says nothing of it.
type short struct{ disk.Ops }

func (s short) Create(path string, mode fs.FileMode) (disk.File, error) {
	f, err := s.Ops.Create(path, mode)
	return shortFile{f}, err
}

type shortFile struct{ disk.File }

func (f shortFile) Write(p []byte) (int, error) { return f.File.Write(p[:len(p)/2]) }

func TestFolders(t *testing.T) {
	dir, d := t.TempDir(), disk.OS()
	deep := filepath.Join(dir, "a", "b", "c")
	made, err := d.Mkdirs(deep)
	if err != nil || len(made) != 3 || made[0] != filepath.Join(dir, "a") {
		t.Errorf("%q, %v", made, err)
	}
	if made, err := d.Mkdirs(deep); err != nil || len(made) > 0 {
		t.Errorf("again: %q, %v", made, err)
	}
	if err := d.Save(filepath.Join(deep, "file"), 0o444, text("x")); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(filepath.Join(deep, "file")); err != nil || info.Mode().Perm() != 0o444 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	if err := d.MkdirAll(filepath.Join(deep, "file")); err == nil {
		t.Error("made a folder where a file is")
	}
	for range 2 {
		if err := d.RemoveAll(filepath.Join(dir, "a")); err != nil {
			t.Error(err)
		}
	}
	if got := content(t, dir); len(got) > 0 {
		t.Errorf("left %q", got)
	}
}

func TestExchange(t *testing.T) {
	dir, d := t.TempDir(), disk.OS()
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	if err := errors.Join(d.Save(filepath.Join(a, "x"), 0o644, text("1")), d.Save(filepath.Join(b, "x"), 0o644, text("2"))); err != nil {
		t.Fatal(err)
	}
	err := d.Exchange(a, b)
	if errors.Is(err, errors.ErrUnsupported) {
		return // The file system cannot; tables are put in place in two steps then.
	}
	if got := content(t, dir); err != nil || got["/a/x"] != "2" || got["/b/x"] != "1" {
		t.Errorf("%v, %v", got, err)
	}
	if err := d.Exchange(a, filepath.Join(dir, "none")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("with nothing: %v", err)
	}
}

// A loss of power keeps the bytes that were synced under the names that were, and nothing else.
func TestCrash(t *testing.T) {
	root := t.TempDir()
	putOld := func(name string) {
		if err := os.WriteFile(filepath.Join(root, name), []byte("old"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	putOld("kept")
	putOld("replaced")
	c, err := disktest.NewCrash(root, disk.OS())
	if err != nil {
		t.Fatal(err)
	}
	d := c.Disk()
	after := func() map[string]string {
		to := filepath.Join(t.TempDir(), "after")
		if err := c.After(to); err != nil {
			t.Fatal(err)
		}
		return content(t, to)
	}
	is := func(what string, want map[string]string) {
		t.Helper()
		got := after()
		if len(got) != len(want) {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
		for name, text := range want {
			if got[name] != text {
				t.Errorf("%s: %q, want %q", what, got, want)
			}
		}
	}
	temp, err := d.Fill(root, 0o644, text("new"))
	if err != nil {
		t.Fatal(err)
	}
	is("a file without a durable name", map[string]string{"/kept": "old", "/replaced": "old"})
	if err := d.Rename(temp, filepath.Join(root, "replaced")); err != nil {
		t.Fatal(err)
	}
	is("a rename that is not durable", map[string]string{"/kept": "old", "/replaced": "old"})
	if err := d.SyncDir(root); err != nil {
		t.Fatal(err)
	}
	is("a durable one", map[string]string{"/kept": "old", "/replaced": "new"})
	f, err := d.Create(filepath.Join(root, "empty"), 0o644)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(text("lost")(f), f.Close(), d.SyncDir(root)); err != nil {
		t.Fatal(err)
	}
	is("a name without bytes", map[string]string{"/kept": "old", "/replaced": "new", "/empty": ""})
	if err := errors.Join(d.Remove(filepath.Join(root, "empty")), d.Remove(filepath.Join(root, "kept"))); err != nil {
		t.Fatal(err)
	}
	is("removals that are not durable", map[string]string{"/kept": "old", "/replaced": "new", "/empty": ""})
	if err := d.Mkdir(filepath.Join(root, "dir")); err != nil {
		t.Fatal(err)
	}
	if err := d.Put(filepath.Join(root, "dir", "in"), 0o644, text("in")); err != nil {
		t.Fatal(err)
	}
	if err := d.SyncDir(filepath.Join(root, "dir")); err != nil {
		t.Fatal(err)
	}
	is("a folder without a durable name", map[string]string{"/kept": "old", "/replaced": "new", "/empty": ""})
	if err := d.SyncDir(root); err != nil {
		t.Fatal(err)
	}
	is("a durable folder", map[string]string{"/replaced": "new", "/dir/in": "in"})
}
