package lake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"dynolake/pipeline/disk"
	"dynolake/schema"
)

// Format is the version of the lake's layout that this program writes and the newest that it reads. The first writer to open
// an older lake brings it up to this one.
const Format = 2

// ErrNoLake is returned by Open for a folder that is no lake.
var ErrNoLake = errors.New("no lake")

// Lake is an open lake: for readers as it is, for a writer by Write.
type Lake struct {
	root   string
	db     *sql.DB
	disk   disk.Disk
	clock  func() time.Time
	uptime func() (boot string, up time.Duration) // Nil where the clock is taken at its word.
	grace  time.Duration
	held   atomic.Pointer[lock] // Of this process's writer; nil where it has none.
	firm   sync.Map             // Folders whose names this process has made durable, relative to root.

	coders coders
}

// Option changes how a lake is opened.
type Option func(*Lake)

// WithClock sets the clock that dates runs, findings and superseded files. It is taken at its word: nothing tells when it was set.
func WithClock(now func() time.Time) Option {
	return func(l *Lake) { l.clock, l.uptime = now, nil }
}

// WithUptime sets what tells of a clock that was set: a name for the system's start, and the time since.
func WithUptime(up func() (boot string, up time.Duration)) Option {
	return func(l *Lake) { l.uptime = up }
}

// WithGrace sets how long a superseded file stays for readers that still use it; an hour by default.
func WithGrace(d time.Duration) Option { return func(l *Lake) { l.grace = d } }

// WithDisk puts another file system under all that is written.
func WithDisk(d disk.Disk) Option { return func(l *Lake) { l.disk = d } }

func newLake(path string, opts []Option) *Lake {
	l := &Lake{root: filepath.Clean(path), disk: disk.OS(), clock: time.Now, uptime: running, grace: time.Hour, coders: newCoders()}
	for _, o := range opts {
		o(l)
	}
	return l
}

// folders of a lake beside those of its tables.
func folders() []string {
	list := []string{"config/mappings", "config/packs", "config/can", "archive", "reports", "tables", "inbox"}
	for _, t := range schema.Tables() {
		list = append(list, t.Name)
	}
	return list
}

// Init makes an empty lake at path with the starter texts under config/, given by their relative path. A config file that
// is there already stays as it is. On an existing lake it changes nothing and returns false. The catalogue comes last, so
// that an interrupted Init is completed by the next one.
func Init(path string, starters map[string]string, opts ...Option) (created bool, err error) {
	l := newLake(path, opts)
	if err := l.folder(); err != nil {
		return false, err
	}
	catalogue := filepath.Join(l.root, catalogueName)
	if _, err := os.Stat(catalogue); err == nil {
		return false, nil
	}
	if err := l.disk.MkdirAll(l.root); err != nil {
		return false, fmt.Errorf("make lake: %w", err)
	}
	held, err := acquire(nil, l.root, me(l.clock(), "dynolake init"))
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, held.release()) }()
	if _, err := os.Stat(catalogue); err == nil {
		return false, nil // Another process made it meanwhile.
	}
	if lost, err := l.hasFiles(); err != nil || lost {
		return false, errors.Join(err, fmt.Errorf("make lake at %s: it holds a lake's files without their catalogue: run dynolake verify --rebuild", l.root))
	}
	s := l.saver()
	s.mode = 0o666
	for _, dir := range folders() {
		if err := s.mkdir(filepath.FromSlash(dir)); err != nil {
			return false, err
		}
	}
	for name, text := range starters {
		if err := s.start(filepath.Join("config", filepath.FromSlash(name)), text); err != nil {
			return false, err
		}
	}
	if err := s.Flush(); err != nil {
		return false, err
	}
	return true, l.createCatalogue(func(*sql.DB) error { return nil })
}

// folder refuses a path that is a file.
func (l *Lake) folder() error {
	if info, err := os.Stat(l.root); err == nil && !info.IsDir() {
		return fmt.Errorf("open lake at %s: found a file, and a lake is a folder", l.root)
	}
	return nil
}

// hasFiles reports whether a table's folder holds a Parquet file.
func (l *Lake) hasFiles() (bool, error) {
	found := false
	err := l.walk(func(path string, _ os.DirEntry) error {
		found = found || strings.HasSuffix(path, ".parquet")
		return nil
	})
	return found, err
}

// start writes a starter text for the user to edit, unless there is a file of that name.
func (s *saver) start(name, text string) error {
	if _, err := os.Stat(filepath.Join(s.root, name)); err == nil {
		return nil
	}
	write := func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	}
	_, err := s.Save(filepath.Dir(name), write, func(stored) (string, error) { return name, nil })
	return err
}

// Open opens a lake. It fails with ErrNoLake where there is none, and says what to do when the catalogue is damaged or of a
// newer format.
func Open(ctx context.Context, path string, opts ...Option) (*Lake, error) {
	l := newLake(path, opts)
	if err := l.folder(); err != nil {
		return nil, err
	}
	catalogue := filepath.Join(l.root, catalogueName)
	if _, err := os.Stat(catalogue); errors.Is(err, os.ErrNotExist) {
		if lost, _ := l.hasFiles(); lost {
			return nil, fmt.Errorf("open lake at %s: its catalogue.db is missing: run dynolake verify --rebuild", path)
		}
		return nil, fmt.Errorf("%w at %s: run dynolake init", ErrNoLake, path)
	} else if err != nil {
		return nil, fmt.Errorf("open lake: %w", err)
	}
	db, err := openCatalogue(catalogue)
	if err != nil {
		return nil, err
	}
	l.db = db
	if _, err := l.format(ctx); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return l, nil
}

// Disk is what the lake is written with.
func (l *Lake) Disk() disk.Disk { return l.disk }

// Root is the lake's folder.
func (l *Lake) Root() string { return l.root }

// Close closes the lake. Its files stay.
func (l *Lake) Close() error { return l.db.Close() }

func (l *Lake) saver() *saver {
	return &saver{disk: l.disk, root: l.root, firm: &l.firm, dirs: map[string]bool{}, mode: 0o444}
}

// walk visits every file in the tables' folders by its path relative to the lake.
func (l *Lake) walk(visit func(path string, d os.DirEntry) error) error {
	for _, t := range schema.Tables() {
		err := filepath.WalkDir(filepath.Join(l.root, t.Name), func(path string, d os.DirEntry, err error) error {
			if errors.Is(err, os.ErrNotExist) {
				return nil
			}
			if err != nil || d.IsDir() {
				return err
			}
			rel, err := filepath.Rel(l.root, path)
			if err != nil {
				return err
			}
			return visit(filepath.ToSlash(rel), d)
		})
		if err != nil {
			return fmt.Errorf("look through the lake: %w", err)
		}
	}
	return nil
}

func me(now time.Time, command string) Holder {
	host, err := os.Hostname()
	if err != nil {
		host = "unknown host"
	}
	return Holder{Host: host, PID: os.Getpid(), Start: started(os.Getpid()), Since: now.UTC(), Command: command}
}
