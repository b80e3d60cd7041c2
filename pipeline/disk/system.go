package disk

import (
	"errors"
	"io/fs"
	"os"
)

// dirMode is that of folders, before the umask.
const dirMode = 0o777

type system struct{}

func (system) Create(path string, mode fs.FileMode) (File, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func (system) Sync(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func (system) Rename(from, to string) error { return os.Rename(from, to) }

func (system) Link(from, to string) error { return os.Link(from, to) }

func (system) Exchange(a, b string) error { return exchange(a, b) }

func (system) Remove(path string) error { return os.Remove(path) }

func (system) Mkdir(path string) error { return os.Mkdir(path, dirMode) }

func (system) SyncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func (system) Commit(tx interface{ Commit() error }) error { return tx.Commit() }
