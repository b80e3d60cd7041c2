package disktest

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"dynolake/pipeline/disk"
)

// Crash is a disk over a real folder that knows what a loss of power would leave of it: the bytes of files that were synced, under
// the names that were there when their folder was last synced, and nothing else. A file whose name is durable and whose bytes are
// not comes out empty. Files that are written past the disk (a database's own) are taken as they are.
type Crash struct {
	On   disk.Ops
	Root string
	Done func(Op) // Called after each operation; may be nil.

	mu  sync.Mutex
	top *node
}

// node is a file or folder, whatever its name is.
type node struct {
	live, firm map[string]*node // Of a folder: the names as they are, and those that are durable.
	text       []byte           // Of a file: its durable bytes.
	native     bool             // Written past the disk: its bytes are those of the real file.
}

// NewCrash takes all that is in root for durable.
func NewCrash(root string, on disk.Ops) (*Crash, error) {
	top, err := load(root)
	return &Crash{On: on, Root: root, top: top}, err
}

func load(path string) (*node, error) {
	info, err := os.Lstat(path)
	if err != nil {
		return nil, err
	}
	if !info.IsDir() {
		text, err := os.ReadFile(path)
		return &node{text: text, native: native(path)}, err
	}
	list, err := os.ReadDir(path)
	n := folder()
	for _, e := range list {
		if strings.HasSuffix(e.Name(), "-wal") || strings.HasSuffix(e.Name(), "-shm") {
			continue // They go with their database.
		}
		if n.live[e.Name()], err = load(filepath.Join(path, e.Name())); err != nil {
			return nil, err
		}
	}
	n.firm = maps.Clone(n.live)
	return n, err
}

func folder() *node { return &node{live: map[string]*node{}, firm: map[string]*node{}} }

func native(path string) bool {
	name := filepath.Base(path)
	return strings.HasSuffix(name, ".db") && !strings.HasPrefix(name, disk.TempPrefix)
}

// Disk is the disk as the program takes it.
func (c *Crash) Disk() disk.Disk { return disk.Disk{Ops: c} }

// at finds a folder by its path.
func (c *Crash) at(path string) (*node, error) {
	rel, err := filepath.Rel(c.Root, path)
	n := c.top
	if err != nil || rel == "." {
		return n, err
	}
	for _, name := range strings.Split(filepath.ToSlash(rel), "/") {
		if n = n.live[name]; n == nil {
			return nil, fmt.Errorf("disktest: %s was made past the disk", path)
		}
	}
	return n, nil
}

// do carries an operation out and, where it succeeds, keeps account of it.
func (c *Crash) do(what, path string, do func() error, account func(dir *node, name string) error) error {
	c.mu.Lock()
	dir, err := c.at(filepath.Dir(path))
	if err == nil {
		err = do()
	}
	if err == nil && account != nil {
		err = account(dir, filepath.Base(path))
	}
	c.mu.Unlock()
	if err == nil && c.Done != nil {
		c.Done(Op{what, path})
	}
	return err
}

// hold keeps the bytes of what is written past the disk before it goes, for its name may be durable still.
func (c *Crash) hold(dir *node, path string) error {
	name := filepath.Base(path)
	was, known := dir.live[name]
	if known && !was.native {
		return nil
	}
	text, err := os.ReadFile(path)
	if os.IsNotExist(err) {
		return nil
	}
	if !known || dir.firm[name] == was {
		dir.firm[name] = &node{text: text}
	}
	return err
}

// Create makes a file whose bytes and name are not durable.
func (c *Crash) Create(path string, mode fs.FileMode) (f disk.File, err error) {
	n := &node{native: native(path)}
	err = c.do("create", path, func() error {
		f, err = c.On.Create(path, mode)
		return err
	}, func(dir *node, name string) error {
		dir.live[name] = n
		return nil
	})
	if err != nil {
		return nil, err
	}
	return &crashFile{f, c, n, path}, nil
}

// Sync makes a file's bytes durable.
func (c *Crash) Sync(path string) error {
	return c.do("sync", path, func() error { return c.On.Sync(path) }, func(dir *node, name string) (err error) {
		n := dir.live[name]
		if n == nil { // A database made it past the disk.
			n = &node{native: native(path)}
			dir.live[name] = n
		}
		n.text, err = os.ReadFile(path)
		return err
	})
}

// Rename moves a name that is not durable yet; the old one may still be.
func (c *Crash) Rename(from, to string) error {
	return c.do("rename", to, func() error {
		dir, err := c.at(filepath.Dir(to))
		if err == nil {
			err = c.hold(dir, to)
		}
		if err != nil {
			return err
		}
		return c.On.Rename(from, to)
	}, func(dir *node, name string) error {
		old, err := c.at(filepath.Dir(from))
		if err != nil {
			return err
		}
		dir.live[name] = old.live[filepath.Base(from)]
		delete(old.live, filepath.Base(from))
		dir.live[name].native = dir.live[name].native || native(to)
		return nil
	})
}

// Link gives a second name that is not durable yet.
func (c *Crash) Link(from, to string) error {
	return c.do("link", to, func() error { return c.On.Link(from, to) }, func(dir *node, name string) error {
		old, err := c.at(filepath.Dir(from))
		if err == nil {
			dir.live[name] = old.live[filepath.Base(from)]
		}
		return err
	})
}

// Exchange moves two names.
func (c *Crash) Exchange(a, b string) error {
	return c.do("exchange", b, func() error { return c.On.Exchange(a, b) }, func(dir *node, name string) error {
		other, err := c.at(filepath.Dir(a))
		if err != nil {
			return err
		}
		dir.live[name], other.live[filepath.Base(a)] = other.live[filepath.Base(a)], dir.live[name]
		return nil
	})
}

// Remove takes a name away that may still be durable.
func (c *Crash) Remove(path string) error {
	return c.do("remove", path, func() error {
		dir, err := c.at(filepath.Dir(path))
		if err == nil {
			err = c.hold(dir, path)
		}
		if err != nil {
			return err
		}
		return c.On.Remove(path)
	}, func(dir *node, name string) error {
		delete(dir.live, name)
		return nil
	})
}

// Mkdir makes a folder whose name is not durable.
func (c *Crash) Mkdir(path string) error {
	return c.do("mkdir", path, func() error { return c.On.Mkdir(path) }, func(dir *node, name string) error {
		dir.live[name] = folder()
		return nil
	})
}

// SyncDir makes the names in a folder durable.
func (c *Crash) SyncDir(path string) error {
	c.mu.Lock()
	n, err := c.at(path)
	if err == nil {
		err = c.On.SyncDir(path)
	}
	if err == nil {
		n.firm = maps.Clone(n.live)
	}
	c.mu.Unlock()
	if err == nil && c.Done != nil {
		c.Done(Op{"syncdir", path})
	}
	return err
}

// Commit is durable when it returns, as the database sees to it. Nothing is copied meanwhile: After has the state before or after it.
func (c *Crash) Commit(tx interface{ Commit() error }) error {
	c.mu.Lock()
	err := c.On.Commit(tx)
	c.mu.Unlock()
	if err == nil && c.Done != nil {
		c.Done(Op{"commit", ""})
	}
	return err
}

type crashFile struct {
	disk.File
	c    *Crash
	n    *node
	path string
}

func (f *crashFile) Sync() error {
	return f.c.do("sync", f.path, f.File.Sync, func(*node, string) (err error) {
		f.n.text, err = os.ReadFile(f.path)
		return err
	})
}

// After makes the folder to as a loss of power at this moment would leave Root.
func (c *Crash) After(to string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.top.write(c.Root, to)
}

func (n *node) write(from, to string) error {
	if n.live == nil {
		text := n.text
		if n.native && len(text) > 0 {
			if err := copyNative(from, to); !os.IsNotExist(err) {
				return err
			}
		}
		return os.WriteFile(to, text, 0o644)
	}
	if err := os.MkdirAll(to, 0o755); err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(n.firm)) {
		if err := n.firm[name].write(filepath.Join(from, name), filepath.Join(to, name)); err != nil {
			return err
		}
	}
	return nil
}

// copyNative copies a database with its log.
func copyNative(from, to string) error {
	for _, end := range []string{"", "-wal"} {
		text, err := os.ReadFile(from + end)
		if end != "" && os.IsNotExist(err) {
			continue
		}
		if err == nil {
			err = os.WriteFile(to+end, text, 0o644)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
