package lake

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/disk/disktest"
)

var errDisk = errors.New("the disk said no")

// failAt fails the k-th operation and says which it was.
type failAt struct {
	disktest.Faulty
	failed string
}

func newFailAt(k int) *failAt {
	d := &failAt{Faulty: disktest.Faulty{On: disktest.Quick()}}
	d.Fail = func(n int, o disktest.Op) error {
		if n != k {
			return nil
		}
		d.failed = o.What
		return errDisk
	}
	return d
}

// lastFails fails the step that would make a commit visible.
func lastFails() disk.Disk {
	d := &disktest.Faulty{On: disktest.Quick(), Fail: func(_ int, o disktest.Op) error {
		if o.What == "commit" {
			return errDisk
		}
		return nil
	}}
	return d.Disk()
}

func quickDisk() disk.Disk { return disk.Disk{Ops: disktest.Quick()} }

// Each operation of a save is made to fail in turn. The error names it, the lake is as it was before and sound, and the
// next try gives the lake that an undisturbed one gives.
func TestEveryOperationMayFail(t *testing.T) {
	ctx := context.Background()
	first := Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a")}}
	second := Batch{Runs: []Entry{entry(2, 30, "b"), entry(3, 20, "a")}, Retire: []string{entry(1, 2, "").Run.ID}}
	for _, b := range []Batch{first, second} {
		for i := range b.Runs { // Two tables fewer: the operations of a save are the same in all.
			b.Runs[i].Unmapped, b.Runs[i].Findings = nil, nil
		}
	}
	undisturbed := newTestLake(t)
	commitAll(t, undisturbed, first)
	commitAll(t, undisturbed, second)
	want := dump(t, undisturbed)
	prepared := newTestLake(t)
	commitAll(t, prepared, first)
	if err := prepared.Close(); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for k := 1; ; k++ {
		dir := filepath.Join(t.TempDir(), "lake")
		if err := os.CopyFS(dir, os.DirFS(prepared.root)); err != nil {
			t.Fatal(err)
		}
		l := open(t, dir)
		before := snapshot(t, l)
		d := newFailAt(k)
		faulty := open(t, l.root, WithDisk(d.Disk()))
		w, err := faulty.Write(ctx, "test")
		if err != nil {
			t.Fatal(err)
		}
		err = archiveAndCommit(ctx, w, second)
		if d.failed == "" {
			if err != nil {
				t.Fatal(err)
			}
			break // Every operation had its turn.
		}
		seen[d.failed] = true
		switch {
		case d.failed == "remove":
			// Only a temporary file that is of no use stays behind.
		case !errors.Is(err, errDisk) || !strings.Contains(err.Error(), d.failed):
			t.Fatalf("operation %d (%s) failed, the error is %v", k, d.failed, err)
		default:
			if diff := cmp.Diff(before, snapshot(t, l)); diff != "" {
				t.Fatalf("operation %d (%s) failed and the lake changed:\n%s", k, d.failed, diff)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		again := open(t, l.root, WithDisk(quickDisk()))
		clean(t, again)
		commitAll(t, again, second)
		clean(t, again)
		if diff := cmp.Diff(want, dump(t, again)); diff != "" {
			t.Fatalf("after operation %d (%s) the second try gives another lake:\n%s", k, d.failed, diff)
		}
	}
	for _, what := range []string{"create", "write", "sync", "close", "rename", "mkdir", "syncdir", "commit"} {
		if !seen[what] {
			t.Errorf("no %q was made to fail: the test has lost its grip on the save path", what)
		}
	}
}

func TestArchive(t *testing.T) {
	l := newTestLake(t)
	text := strings.Repeat("1;2;3\n", 10000)
	b := archive(t, l, text)
	if b.Size != int64(len(text)) || b.SHA256 != fmt.Sprintf("%x", sha(text)) {
		t.Errorf("blob %+v", b)
	}
	path := l.root + "/" + blobPath(b.SHA256)
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o444 || info.Size() >= b.Size {
		t.Errorf("archived file: %v, %v", info, err)
	}
	r, err := l.OpenArchive(b.SHA256)
	if err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil || string(got) != text {
		t.Errorf("read back %d bytes, %v", len(got), err)
	}
	if again := archive(t, l, text); again.SHA256 != b.SHA256 {
		t.Errorf("archived again as %+v", again)
	}
	packed, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, damage := range [][]byte{packed[:len(packed)-5], nil, flip(packed), append(bytes.Clone(packed), 1, 2, 3)} {
		overwrite(t, path, damage)
		r, err := l.OpenArchive(b.SHA256)
		if err == nil {
			_, err = io.ReadAll(r)
			_ = r.Close()
		}
		if err == nil || !strings.Contains(err.Error(), b.SHA256) {
			t.Errorf("%d bytes of %d: error %v", len(damage), len(packed), err)
		}
	}
	archive(t, l, text) // The same bytes, given once more, heal the file.
	if there, err := os.ReadFile(path); err != nil || !bytes.Equal(there, packed) {
		t.Errorf("not healed: %v", err)
	}
	if _, err := l.OpenArchive("../catalogue.db"); err == nil {
		t.Error("opened what is no SHA-256")
	}
}

func flip(b []byte) []byte {
	b = bytes.Clone(b)
	b[len(b)/2] ^= 0x40
	return b
}

func overwrite(t testing.TB, path string, b []byte) {
	t.Helper()
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}
