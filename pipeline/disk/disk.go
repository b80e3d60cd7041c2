package disk

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// TempPrefix begins the name of a file that is being written. Such a file is never read.
const TempPrefix = ".tmp-"

// Ops are the operations that change something on a file system, or make durable what was changed.
type Ops interface {
	// Create makes a new file of a mode that the umask narrows, open for writing whatever the mode, and fails where there is one.
	Create(path string, mode fs.FileMode) (File, error)
	// Sync makes the content of a file durable that was written by other means.
	Sync(path string) error
	Rename(from, to string) error
	// Link gives a file a second name, and fails where that is taken.
	Link(from, to string) error
	// Exchange gives two names each other's file or folder in one step; errors.ErrUnsupported where the system cannot.
	Exchange(a, b string) error
	// Remove removes a file or an empty folder.
	Remove(path string) error
	// Mkdir makes one folder.
	Mkdir(path string) error
	// SyncDir makes the names in a folder durable.
	SyncDir(path string) error
	// Commit ends a database's transaction.
	Commit(tx interface{ Commit() error }) error
}

// File is a file that is being written.
type File interface {
	io.WriteSeeker
	Sync() error
	Close() error
}

// Disk is a file system to write to.
type Disk struct{ Ops }

// OS is the system's own.
func OS() Disk { return Disk{system{}} }

// Save publishes a file with the content that write gives and with a mode that the umask narrows. The folder is made where it is missing. A file of that name is
// replaced in one step. After an error the old one is there, save where the error is of the very last step, the fsync of the folder.
func (d Disk) Save(path string, mode fs.FileMode, write func(io.Writer) error) error {
	fail := func(err error) error { return fmt.Errorf("write %s: %w", path, err) }
	dir := filepath.Dir(path)
	if err := d.MkdirAll(dir); err != nil {
		return fail(err)
	}
	temp, err := d.Fill(dir, mode, write)
	if err != nil {
		return fail(err)
	}
	if err := d.Rename(temp, path); err != nil {
		return fail(d.Drop(temp, err))
	}
	if err := d.SyncDir(dir); err != nil {
		return fail(err)
	}
	return nil
}

// Fill writes a file under a new temporary name in dir, durable but for its name, and gives the name. After an error there is none.
func (d Disk) Fill(dir string, mode fs.FileMode, write func(io.Writer) error) (temp string, err error) {
	temp = filepath.Join(dir, TempPrefix+token())
	return temp, d.Put(temp, mode, write)
}

// Put writes a new file under its own name, durable but for the name: for a folder that is not published yet. After an error there is none.
func (d Disk) Put(path string, mode fs.FileMode, write func(io.Writer) error) error {
	f, err := d.Create(path, mode)
	if err != nil {
		return err
	}
	if err = write(whole{f}); err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return d.Drop(path, err)
	}
	return nil
}

// whole makes a short write an error.
type whole struct{ File }

func (f whole) Write(p []byte) (int, error) {
	n, err := f.File.Write(p)
	if err == nil && n < len(p) {
		err = io.ErrShortWrite
	}
	return n, err
}

// Drop removes what was begun and joins what fails to the error that asked for it.
func (d Disk) Drop(path string, err error) error {
	if e := d.Remove(path); e != nil && !errors.Is(e, fs.ErrNotExist) {
		return errors.Join(err, fmt.Errorf("remove what was begun: %w", e))
	}
	return err
}

// MkdirAll makes a folder and those above it that are missing, with durable names.
func (d Disk) MkdirAll(path string) error {
	made, err := d.Mkdirs(path)
	for _, dir := range made {
		if err == nil {
			err = d.SyncDir(filepath.Dir(dir))
		}
	}
	return err
}

// Mkdirs makes a folder and those above it that are missing. It gives those that it made, the outermost first, whose names are not durable yet.
func (d Disk) Mkdirs(path string) (made []string, err error) {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return nil, nil
	}
	if above := filepath.Dir(path); above != path {
		if made, err = d.Mkdirs(above); err != nil {
			return made, err
		}
	}
	if err := d.Mkdir(path); err != nil {
		if info, e := os.Stat(path); e == nil && info.IsDir() {
			return made, nil // Another made it meanwhile.
		}
		return made, err
	}
	return append(made, path), nil
}

// RemoveAll removes a file, or a folder with all that is in it; what is not there is no error.
func (d Disk) RemoveAll(path string) error {
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if info.IsDir() {
		list, err := os.ReadDir(path)
		if err != nil {
			return err
		}
		for _, e := range list {
			if err := d.RemoveAll(filepath.Join(path, e.Name())); err != nil {
				return err
			}
		}
	}
	if err := d.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// token makes a name that no other has.
func token() string {
	var b [8]byte
	_, _ = rand.Read(b[:]) // It never fails: the runtime aborts instead.
	return hex.EncodeToString(b[:])
}
