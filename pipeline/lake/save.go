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
	"sync"

	"dynolake/pipeline/disk"
)

// saver publishes files: temporary name, content, fsync, rename; Flush then makes the names durable, each folder once.
type saver struct {
	disk  disk.Disk
	root  string
	firm  *sync.Map       // Folders whose names are durable, shared by all savers of a lake.
	used  []string        // Folders that were saved to, which Flush makes firm.
	dirs  map[string]bool // Folders with a name not yet durable, relative to root.
	saved []string        // Published, relative to root.
	mode  os.FileMode     // Of what is published, narrowed by the umask; read-only unless said.
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
	var out stored
	temp, err := s.disk.Fill(filepath.Join(s.root, dir), s.mode, out.of(write))
	if err != nil {
		return stored{}, fmt.Errorf("write into %s: %w", dir, err)
	}
	path, err := name(out)
	if err != nil || path == "" {
		return stored{}, s.disk.Drop(temp, err)
	}
	out.Path = filepath.ToSlash(path)
	if err := s.mkdir(filepath.Dir(path)); err != nil {
		return stored{}, s.disk.Drop(temp, err)
	}
	if err := s.disk.Rename(temp, filepath.Join(s.root, path)); err != nil {
		return stored{}, fmt.Errorf("name %s: %w", path, s.disk.Drop(temp, err))
	}
	s.dirs[filepath.Dir(path)] = true
	s.saved = append(s.saved, out.Path)
	return out, nil
}

// Flush makes the names of all saved files durable, and those of the folders that they lie in.
func (s *saver) Flush() error {
	for _, dir := range slices.Sorted(maps.Keys(s.dirs)) {
		if err := s.disk.SyncDir(filepath.Join(s.root, dir)); err != nil {
			return fmt.Errorf("sync folder %s: %w", dir, err)
		}
	}
	clear(s.dirs)
	for _, dir := range s.used {
		s.firm.Store(dir, true)
	}
	return nil
}

// Undo removes what was saved and joins what fails to the error that asked for it.
func (s *saver) Undo(err error) error {
	for _, path := range s.saved {
		err = s.disk.Drop(filepath.Join(s.root, path), err)
	}
	s.saved = nil
	return err
}

// of counts and hashes what a callback writes.
func (o *stored) of(write func(io.Writer) error) func(io.Writer) error {
	return func(w io.Writer) error {
		sum, count := sha256.New(), &counter{}
		buffered := bufio.NewWriterSize(io.MultiWriter(w, sum, count), 1<<18)
		if err := errors.Join(write(buffered), buffered.Flush()); err != nil {
			return err
		}
		o.SHA256, o.Bytes = hex.EncodeToString(sum.Sum(nil)), count.n
		return nil
	}
}

// mkdir makes a folder where it is missing. The first time that a process saves to a folder its name is made durable with the
// rest, and so are those above it: one that is there may be left by a process that died before it had done so.
func (s *saver) mkdir(dir string) error {
	if _, ok := s.firm.Load(dir); ok {
		return nil
	}
	if _, err := s.disk.Mkdirs(filepath.Join(s.root, dir)); err != nil {
		return fmt.Errorf("make folder %s: %w", dir, err)
	}
	s.used = append(s.used, dir)
	for dir != "." {
		dir = filepath.Dir(dir)
		s.dirs[dir] = true
	}
	return nil
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
