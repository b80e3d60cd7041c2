package disktest

import (
	"fmt"
	"io/fs"
	"sync"

	"dynolake/pipeline/disk"
)

// Op is one operation.
type Op struct {
	What string // create, write, seek, sync, close, rename, link, exchange, remove, mkdir, syncdir or commit.
	Path string // Of the file; empty for a commit.
}

func (o Op) String() string { return o.What + " " + o.Path }

// Faulty passes operations on to another disk unless Fail gives an error, which takes the operation's place. A write that
// fails leaves half of its bytes.
type Faulty struct {
	On   disk.Ops
	Fail func(n int, o Op) error // n counts from 1.

	mu  sync.Mutex
	ops []Op
}

// Disk is the faulty disk as the program takes it.
func (d *Faulty) Disk() disk.Disk { return disk.Disk{Ops: d} }

// Ops lists what was asked so far.
func (d *Faulty) Ops() []Op {
	d.mu.Lock()
	defer d.mu.Unlock()
	return append([]Op(nil), d.ops...)
}

// step notes an operation and tells whether it fails.
func (d *Faulty) step(what, path string) error {
	d.mu.Lock()
	o := Op{what, path}
	d.ops = append(d.ops, o)
	n := len(d.ops)
	d.mu.Unlock()
	if d.Fail == nil {
		return nil
	}
	if err := d.Fail(n, o); err != nil {
		return &fs.PathError{Op: what, Path: path, Err: err}
	}
	return nil
}

func (d *Faulty) do(what, path string, do func() error) error {
	if err := d.step(what, path); err != nil {
		return err
	}
	return do()
}

// Create is recorded as create.
func (d *Faulty) Create(path string, mode fs.FileMode) (disk.File, error) {
	if err := d.step("create", path); err != nil {
		return nil, err
	}
	f, err := d.On.Create(path, mode)
	if err != nil {
		return nil, err
	}
	return &file{f, d, path}, nil
}

// Sync is recorded as sync.
func (d *Faulty) Sync(path string) error {
	return d.do("sync", path, func() error { return d.On.Sync(path) })
}

// Rename is recorded with the new name.
func (d *Faulty) Rename(from, to string) error {
	return d.do("rename", to, func() error { return d.On.Rename(from, to) })
}

// Link is recorded with the new name.
func (d *Faulty) Link(from, to string) error {
	return d.do("link", to, func() error { return d.On.Link(from, to) })
}

// Exchange is recorded with the second name.
func (d *Faulty) Exchange(a, b string) error {
	return d.do("exchange", b, func() error { return d.On.Exchange(a, b) })
}

// Remove is recorded as remove.
func (d *Faulty) Remove(path string) error {
	return d.do("remove", path, func() error { return d.On.Remove(path) })
}

// Mkdir is recorded as mkdir.
func (d *Faulty) Mkdir(path string) error {
	return d.do("mkdir", path, func() error { return d.On.Mkdir(path) })
}

// SyncDir is recorded as syncdir.
func (d *Faulty) SyncDir(path string) error {
	return d.do("syncdir", path, func() error { return d.On.SyncDir(path) })
}

// Commit is recorded as commit.
func (d *Faulty) Commit(tx interface{ Commit() error }) error {
	return d.do("commit", "", func() error { return d.On.Commit(tx) })
}

type file struct {
	disk.File
	d    *Faulty
	path string
}

func (f *file) Write(p []byte) (int, error) {
	if err := f.d.step("write", f.path); err != nil {
		n, e := f.File.Write(p[:len(p)/2])
		if e != nil {
			err = fmt.Errorf("%w, and half of it: %w", err, e)
		}
		return n, err
	}
	return f.File.Write(p)
}

func (f *file) Seek(offset int64, whence int) (int64, error) {
	if err := f.d.step("seek", f.path); err != nil {
		return 0, err
	}
	return f.File.Seek(offset, whence)
}

func (f *file) Sync() error { return f.d.do("sync", f.path, f.File.Sync) }

// Close closes the file in any case, as systems do.
func (f *file) Close() error {
	err := f.File.Close()
	if failed := f.d.step("close", f.path); failed != nil {
		return failed
	}
	return err
}
