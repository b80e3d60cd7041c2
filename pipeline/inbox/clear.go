package inbox

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"dynolake/pipeline/disk"
)

// ErrChanged says that a file is no longer what was looked at, and so stays for the next time.
var ErrChanged = errors.New("it was changed since it was looked at: it stays for the next time")

// find gives the file of a path, as long as it is what it was when it was looked at.
func (s *Seen) find(path string) (File, error) {
	i := slices.IndexFunc(s.Files, func(f File) bool { return f.Path == path })
	if i < 0 {
		return File{}, fmt.Errorf("clear the inbox: %s was not looked at", path)
	}
	f := s.Files[i]
	info, err := os.Lstat(path)
	if err != nil {
		return f, fmt.Errorf("clear the inbox: %w", err)
	}
	if stampOf(info) != f.stamp {
		return f, fmt.Errorf("clear the inbox: %s: %w", f.Name, ErrChanged)
	}
	return f, nil
}

// Take removes a file whose bytes the lake has for good, and the folders that this leaves empty.
func (s *Seen) Take(d disk.Disk, path string) error {
	f, err := s.find(path)
	if err != nil {
		return err
	}
	if err := d.Remove(f.Path); err != nil {
		return fmt.Errorf("clear the inbox: %w", err)
	}
	s.prune(d, f)
	return nil
}

// Refuse moves a file into the folder of what cannot be used, with the reason beside it. It does not open the file.
func (s *Seen) Refuse(d disk.Disk, path, why string) error {
	f, err := s.find(path)
	if err != nil {
		return err
	}
	into := filepath.Join(s.Dir, RefusedName, filepath.FromSlash(f.Name))
	into = free(into)
	err = d.Save(into+reasonEnding, 0o666, func(w io.Writer) error {
		_, err := io.WriteString(w, why+"\n")
		return err
	})
	if err == nil {
		err = d.Rename(f.Path, into)
	}
	if err == nil {
		err = d.SyncDir(filepath.Dir(into)) // Before the old name goes for good: after a loss of power it may have both, never none.
	}
	if err != nil {
		return fmt.Errorf("refuse %s: %w", f.Name, err)
	}
	s.prune(d, f)
	return nil
}

const reasonEnding = ".reason.txt"

// Refused reports whether a file of that name, relative to the inbox, was refused and still lies there.
func (s *Seen) Refused(name string) bool {
	_, err := os.Lstat(filepath.Join(s.Dir, RefusedName, filepath.FromSlash(name)))
	return err == nil
}

// free finds a name that no other file has: NAME, else NAME-2 and on, before the ending.
func free(path string) string {
	end := filepath.Ext(path)
	stem := path[:len(path)-len(end)]
	for n := 2; ; n++ {
		if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
			return path
		}
		path = stem + "-" + strconv.Itoa(n) + end
	}
}

// prune removes the folders of a file that has gone, from the innermost, as long as they are empty.
func (s *Seen) prune(d disk.Disk, f File) {
	for rel := filepath.Dir(filepath.FromSlash(f.Name)); rel != "."; rel = filepath.Dir(rel) {
		if d.Remove(filepath.Join(s.Dir, rel)) != nil {
			return // It holds something else.
		}
	}
}
