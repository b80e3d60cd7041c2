package inbox

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"dynolake/pipeline/sheet"
)

// RefusedName is the folder in the inbox that holds what cannot be used.
const RefusedName = "refused"

// State of a file in the inbox.
type State string

// The states.
const (
	Ready   State = "ready"
	Waiting State = "waiting" // It is still being written, or the run sheet that may speak of it is.
	Barred  State = "barred"  // It is no plain file, and is not opened.
)

// File is one that lies in the inbox.
type File struct {
	Path  string
	Name  string // Relative to the inbox, with slashes.
	State State
	Why   string // Why it is not ready.
	stamp stamp
}

// Seen is what the inbox holds.
type Seen struct {
	Dir   string
	Files []File // In the order of their names.
}

// stamp tells whether a file is still the one that it was.
type stamp struct {
	mode     fs.FileMode
	size     int64
	at       time.Time
	changed  syscall.Timespec
	identity uint64
}

// Look looks into the inbox twice, gap apart; an inbox without files is looked into once. A missing inbox is empty.
func Look(ctx context.Context, dir string, gap time.Duration) (Seen, error) {
	if info, err := os.Lstat(dir); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		if dir, err = filepath.EvalSymlinks(dir); err != nil {
			return Seen{Dir: dir}, fmt.Errorf("look into the inbox: %w", err)
		}
	}
	seen := Seen{Dir: dir}
	before, err := list(ctx, dir)
	if err != nil || len(before) == 0 {
		return seen, err
	}
	select {
	case <-ctx.Done():
		return seen, ctx.Err()
	case <-time.After(gap):
	}
	now, err := list(ctx, dir)
	if err != nil {
		return seen, err
	}
	for _, f := range now {
		i := slices.IndexFunc(before, func(b File) bool { return b.Name == f.Name })
		if f.State == Ready && (i < 0 || before[i].stamp != f.stamp) {
			f.State, f.Why = Waiting, "it is still being written"
		}
		seen.Files = append(seen.Files, f)
	}
	seen.hold()
	return seen, nil
}

// hold makes the logs wait that a run sheet which is still being written may speak of.
func (s *Seen) hold() {
	for _, f := range s.Files {
		if f.State != Waiting || !sheet.Is(f.Name) {
			continue
		}
		below := filepath.Dir(f.Path) + string(filepath.Separator)
		for i := range s.Files {
			if o := &s.Files[i]; o.State == Ready && strings.HasPrefix(o.Path, below) {
				o.State, o.Why = Waiting, "the run sheet "+f.Name+" is still being written"
			}
		}
	}
}

// Leave lists what is not to be looked into or opened.
func (s *Seen) Leave() []string {
	leave := []string{filepath.Join(s.Dir, RefusedName)}
	for _, f := range s.Files {
		if f.State != Ready {
			leave = append(leave, f.Path)
		}
	}
	return leave
}

// list gives all that lies in the inbox but folders and what is refused.
func list(ctx context.Context, dir string) ([]File, error) {
	root := filepath.Clean(dir)
	if _, err := os.Lstat(root); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var files []File
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, fs.ErrNotExist) && path != root:
			return nil // Taken away meanwhile.
		case err != nil && path != root && d.IsDir():
			return fs.SkipDir // It cannot be listed; its files are not ours.
		case err != nil:
			return err
		case path == root:
			return nil
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if hidden := strings.HasPrefix(d.Name(), "."); d.IsDir() {
			if hidden || rel == RefusedName {
				return fs.SkipDir
			}
			return nil
		} else if hidden || strings.HasPrefix(d.Name(), "~$") {
			return nil
		}
		if f, ok := look(path, filepath.ToSlash(rel)); ok {
			files = append(files, f)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("look into the inbox: %w", err)
	}
	slices.SortFunc(files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	return files, nil
}

// look tells of one file without opening it or following a link.
func look(path, name string) (File, bool) {
	f := File{Path: path, Name: name, State: Ready}
	info, err := os.Lstat(path)
	if err != nil {
		return f, false // Taken away meanwhile.
	}
	f.stamp = stampOf(info)
	if kind := special(info.Mode()); kind != "" {
		f.State, f.Why = Barred, "it is "+kind+" and no file: copy the log itself into the inbox"
	}
	return f, true
}

func special(mode fs.FileMode) string {
	switch {
	case mode.IsRegular():
		return ""
	case mode&fs.ModeSymlink != 0:
		return "a link"
	case mode&fs.ModeNamedPipe != 0:
		return "a pipe"
	case mode&fs.ModeSocket != 0:
		return "a socket"
	}
	return "a device"
}
