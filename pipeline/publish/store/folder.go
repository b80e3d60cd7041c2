package store

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/unix"
)

const (
	tempPrefix = ".tmp-"
	lockName   = ".publish.lock"
)

// folder is a store in the file system. The first write takes a lock that the kernel frees when the process ends.
type folder struct {
	root string
	lock *os.File
}

func openFolder(path string) (Store, error) {
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
	return &folder{root: abs}, nil
}

// Lock makes the folder this process' own to write to, and fails while another publishes there.
func (f *folder) Lock() error {
	if err := os.MkdirAll(f.root, 0o777); err != nil {
		return fmt.Errorf("make the destination: %w", err)
	}
	lock, err := os.OpenFile(filepath.Join(f.root, lockName), os.O_RDWR|os.O_CREATE, 0o666)
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
		if err != nil || d.IsDir() || !strings.HasPrefix(d.Name(), tempPrefix) {
			return err
		}
		return os.Remove(path)
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
	return f.write(name, from, size, os.Rename)
}

func (f *folder) Create(_ context.Context, name string, content []byte) error {
	return f.write(name, bytes.NewReader(content), int64(len(content)), func(temp, path string) error {
		if err := os.Link(temp, path); errors.Is(err, fs.ErrExist) {
			return errors.Join(fmt.Errorf("%s: %w", name, ErrTaken), os.Remove(temp))
		} else if err != nil {
			return err
		}
		return os.Remove(temp)
	})
}

// write saves content durably under a temporary name and has publish give it its own.
func (f *folder) write(name string, from io.Reader, size int64, publish func(temp, path string) error) (err error) {
	path := f.path(name)
	if err := f.mkdir(filepath.Dir(path)); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	var random [8]byte
	_, _ = rand.Read(random[:]) // It never fails: the runtime aborts instead.
	temp := filepath.Join(filepath.Dir(path), tempPrefix+hex.EncodeToString(random[:]))
	defer func() {
		if err != nil {
			_ = os.Remove(temp) // The first error is the one that counts; a later sweep finds what stays.
		}
	}()
	out, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	n, err := io.Copy(out, from)
	if err == nil && n != size {
		err = fmt.Errorf("found %d bytes, want %d", n, size)
	}
	if err == nil {
		err = out.Sync()
	}
	if err = errors.Join(err, out.Close()); err == nil {
		err = publish(temp, path)
	}
	if err == nil {
		err = syncDir(filepath.Dir(path))
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	return nil
}

// mkdir makes a folder and its parents, their names durable.
func (f *folder) mkdir(dir string) error {
	if _, err := os.Stat(dir); err == nil {
		return nil
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	for at := filepath.Dir(dir); len(at) >= len(f.root); at = filepath.Dir(at) {
		if err := syncDir(at); err != nil {
			return err
		}
		if at == f.root {
			break
		}
	}
	return nil
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func (f *folder) Remove(_ context.Context, name string) error {
	path := f.path(name)
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("remove %s: %w", name, err)
	}
	if dir := filepath.Dir(path); dir != f.root {
		_ = os.Remove(dir) // A month's folder that is empty goes too; one that is not stays, and that is no error.
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
			if err != nil || !strings.HasPrefix(name, prefix) || name == lockName || strings.HasPrefix(d.Name(), tempPrefix) {
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
