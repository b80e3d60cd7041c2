package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/unix"

	"dynolake/pipeline/disk"
)

const (
	lockName = ".publish.lock"
	mode     = 0o666 // Of files, before the umask.
)

// folder is a store in the file system. The first write takes a lock that the kernel frees when the process ends.
type folder struct {
	root string
	disk disk.Disk
	lock *os.File
}

func openFolder(path string, d disk.Disk) (Store, error) {
	if path == "" {
		return nil, errors.New("read the destination: it is empty")
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("read the destination: %w", err)
	}
	if info, err := os.Stat(abs); err == nil && !info.IsDir() {
		return nil, fmt.Errorf("open %s: found a file, and a publication is a folder", path)
	}
	return &folder{root: abs, disk: d}, nil
}

// Lock makes the folder this process' own to write to, and fails while another publishes there.
func (f *folder) Lock() error {
	if err := f.disk.MkdirAll(f.root); err != nil {
		return fmt.Errorf("make the destination: %w", err)
	}
	lock, err := os.OpenFile(filepath.Join(f.root, lockName), os.O_RDWR|os.O_CREATE, mode)
	if err != nil {
		return fmt.Errorf("lock the destination: %w", err)
	}
	if err := unix.Flock(int(lock.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		if errors.Is(err, unix.EWOULDBLOCK) {
			err = errors.New("another process publishes there: wait until it has ended")
		}
		return errors.Join(fmt.Errorf("lock %s: %w", f.root, err), lock.Close())
	}
	f.lock = lock
	return f.sweep()
}

// sweep removes what interrupted writes left; under the lock nobody else is writing.
func (f *folder) sweep() error {
	return filepath.WalkDir(f.root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasPrefix(d.Name(), disk.TempPrefix) {
			return err
		}
		return f.disk.Remove(path)
	})
}

func (f *folder) path(name string) string { return filepath.Join(f.root, filepath.FromSlash(name)) }

func (f *folder) URI() string { return "file://" + filepath.ToSlash(f.root) }

func (f *folder) Close() error {
	if f.lock == nil {
		return nil
	}
	return f.lock.Close()
}

func (f *folder) Read(_ context.Context, name string) ([]byte, error) {
	b, err := os.ReadFile(f.path(name))
	return b, missing(err)
}

func missing(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: %w", ErrNone, err)
	}
	return err
}

func (f *folder) Put(_ context.Context, name string, from io.Reader, size int64) error {
	return f.disk.Save(f.path(name), mode, whole(from, size))
}

// whole copies a file of a known size.
func whole(from io.Reader, size int64) func(io.Writer) error {
	return func(w io.Writer) error {
		n, err := io.Copy(w, from)
		if err == nil && n != size {
			err = fmt.Errorf("found %d bytes, want %d", n, size)
		}
		return err
	}
}

// Create gives a file that is written already its name, in one step that fails where the name is taken.
func (f *folder) Create(_ context.Context, name string, content []byte) error {
	path := f.path(name)
	dir := filepath.Dir(path)
	if err := f.disk.MkdirAll(dir); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	temp, err := f.disk.Fill(dir, mode, whole(bytes.NewReader(content), int64(len(content))))
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	err = f.disk.Link(temp, path)
	if errors.Is(err, fs.ErrExist) {
		err = fmt.Errorf("%w: %w", ErrTaken, err)
	}
	_ = f.disk.Remove(temp) // It has its name; what stays is swept the next time.
	if err == nil {
		err = f.disk.SyncDir(dir)
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}

func (f *folder) Remove(_ context.Context, name string) error {
	path := f.path(name)
	if err := f.disk.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("remove %s: %w", name, err)
	}
	if dir := filepath.Dir(path); dir != f.root {
		_ = f.disk.Remove(dir) // A month's folder that is empty goes too; one that is not stays, and that is no error.
	}
	return nil
}

func (f *folder) Stat(_ context.Context, name string) (Info, error) {
	info, err := os.Stat(f.path(name))
	if err != nil {
		return Info{}, missing(err)
	}
	return Info{Name: name, Bytes: info.Size(), At: info.ModTime()}, nil
}

func (f *folder) List(ctx context.Context, prefix string) iter.Seq2[Info, error] {
	return func(yield func(Info, error) bool) {
		err := filepath.WalkDir(f.root, func(path string, d fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil // Removed meanwhile, or nothing was ever published.
			}
			if err != nil {
				return err
			}
			rel, err := filepath.Rel(f.root, path)
			if err != nil {
				return err
			}
			name := filepath.ToSlash(rel)
			if d.IsDir() {
				if folder := name + "/"; name != "." && !strings.HasPrefix(folder, prefix) && !strings.HasPrefix(prefix, folder) {
					return fs.SkipDir
				}
				return ctx.Err()
			}
			info, err := d.Info()
			if err != nil || !strings.HasPrefix(name, prefix) || name == lockName || strings.HasPrefix(d.Name(), disk.TempPrefix) {
				return nil // An error of Info says that it is gone.
			}
			if !yield(Info{Name: name, Bytes: info.Size(), At: info.ModTime()}, nil) {
				return fs.SkipAll
			}
			return nil
		})
		if err != nil {
			yield(Info{}, fmt.Errorf("look through %s: %w", f.root, err))
		}
	}
}
