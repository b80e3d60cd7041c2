package lake

import (
	"bufio"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
)

// tempPrefix marks a file that is being written. Such a file is never read and is swept by the next writer.
const tempPrefix = ".tmp-"

// saver publishes files: temporary name, content, fsync, rename; Flush then makes the names durable, each folder once.
type saver struct {
	disk  disk
	root  string
	dirs  map[string]bool // Folders with a name not yet durable, relative to root.
	saved []string        // Published, relative to root.
	mode  os.FileMode     // Of what is published; read-only unless said.
}

// stored says what was written to a file.
type stored struct {
	Path   string // Relative to the lake, with slashes.
	SHA256 string
	Bytes  int64
}

// Save writes a file in the folder dir and gives it the name that the callback says once all is written. An empty name
// drops the file again. Nothing is visible under the name before the whole content is durable; a failure leaves no name.
func (s *saver) Save(dir string, write func(io.Writer) error, name func(stored) (string, error)) (stored, error) {
	if err := s.mkdir(dir); err != nil {
		return stored{}, err
	}
	temp := filepath.Join(s.root, dir, tempPrefix+token())
	out, err := s.fill(temp, write)
	if err != nil {
		return stored{}, fmt.Errorf("write into %s: %w", dir, s.drop(temp, err))
	}
	path, err := name(out)
	if err != nil || path == "" {
		return stored{}, s.drop(temp, err)
	}
	out.Path = filepath.ToSlash(path)
	if err := s.mkdir(filepath.Dir(path)); err != nil {
		return stored{}, s.drop(temp, err)
	}
	if err := s.disk.Rename(temp, filepath.Join(s.root, path)); err != nil {
		return stored{}, fmt.Errorf("name %s: %w", path, s.drop(temp, err))
	}
	s.dirs[filepath.Dir(path)] = true
	s.saved = append(s.saved, out.Path)
	return out, nil
}

// Flush makes the names of all saved files durable.
func (s *saver) Flush() error {
	for _, dir := range slices.Sorted(maps.Keys(s.dirs)) {
		if err := s.disk.SyncDir(filepath.Join(s.root, dir)); err != nil {
			return fmt.Errorf("sync folder %s: %w", dir, err)
		}
	}
	clear(s.dirs)
	return nil
}

// Undo removes what was saved and joins what fails to the error that asked for it.
func (s *saver) Undo(err error) error {
	for _, path := range s.saved {
		err = s.drop(filepath.Join(s.root, path), err)
	}
	s.saved = nil
	return err
}

func (s *saver) fill(temp string, write func(io.Writer) error) (out stored, err error) {
	f, err := s.disk.Create(temp)
	if err != nil {
		return stored{}, err
	}
	defer func() {
		if err != nil {
			_ = f.Close() // The first error is the one that counts.
		}
	}()
	sum, count := sha256.New(), &counter{}
	buffered := bufio.NewWriterSize(io.MultiWriter(f, sum, count), 1<<18)
	if err := write(buffered); err != nil {
		return stored{}, err
	}
	if err := buffered.Flush(); err != nil {
		return stored{}, err
	}
	if err := f.Chmod(s.mode); err != nil {
		return stored{}, fmt.Errorf("set permissions: %w", err)
	}
	if err := f.Sync(); err != nil {
		return stored{}, fmt.Errorf("sync: %w", err)
	}
	if err := f.Close(); err != nil {
		return stored{}, fmt.Errorf("close: %w", err)
	}
	return stored{SHA256: hex.EncodeToString(sum.Sum(nil)), Bytes: count.n}, nil
}

// mkdir makes a folder that is missing and has its name made durable with the rest.
func (s *saver) mkdir(dir string) error {
	if _, err := os.Stat(filepath.Join(s.root, dir)); err == nil {
		return nil
	}
	if err := s.disk.MkdirAll(filepath.Join(s.root, dir)); err != nil {
		return fmt.Errorf("make folder %s: %w", dir, err)
	}
	s.dirs[filepath.Dir(dir)] = true
	return nil
}

func (s *saver) drop(path string, err error) error {
	if e := s.disk.Remove(path); e != nil && !errors.Is(e, os.ErrNotExist) {
		return errors.Join(err, fmt.Errorf("remove what was begun: %w", e))
	}
	return err
}

type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

// token makes a name that no other save has.
func token() string {
	var b [8]byte
	_, _ = rand.Read(b[:]) // It never fails: the runtime aborts instead.
	return hex.EncodeToString(b[:])
}
