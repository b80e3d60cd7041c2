package lake

import (
	"database/sql"
	"errors"
	"io"
	"os"
)

// disk is every operation by which a save changes the lake. All saves go through it, so that a test can make each one fail.
type disk interface {
	// Create makes a new file; it fails when there is one.
	Create(path string) (handle, error)
	Rename(from, to string) error
	Remove(path string) error
	// MkdirAll makes a folder and its parents.
	MkdirAll(path string) error
	// SyncDir makes the names in a folder durable.
	SyncDir(path string) error
	// Commit ends the catalogue's transaction, the moment in which a save becomes visible.
	Commit(tx *sql.Tx) error
}

type handle interface {
	io.Writer
	Chmod(mode os.FileMode) error
	Sync() error
	Close() error
}

// osDisk is the real one.
type osDisk struct{}

func (osDisk) Create(path string) (handle, error) {
	return os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
}

func (osDisk) Rename(from, to string) error { return os.Rename(from, to) }

func (osDisk) Remove(path string) error { return os.Remove(path) }

func (osDisk) MkdirAll(path string) error { return os.MkdirAll(path, 0o755) }

func (osDisk) SyncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func (osDisk) Commit(tx *sql.Tx) error { return tx.Commit() }
