package tables

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

const (
	newPrefix = "tables.new-"
	oldName   = "tables.old"
)

// swap puts the folder fresh of the lake in the place of tables/, in one step where the file system can exchange two names, and
// removes the old one.
func swap(d Disk, root, fresh string) error {
	at, from := filepath.Join(root, Folder), filepath.Join(root, fresh)
	_, err := os.Lstat(at)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = d.Rename(from, at)
	case err == nil:
		if err = d.Exchange(from, at); errors.Is(err, errors.ErrUnsupported) {
			err = inTwoSteps(d, root, from, at)
		}
	}
	if err == nil {
		err = d.SyncDir(root)
	}
	if err == nil {
		err = d.RemoveAll(from) // The old tables are there now.
	}
	if err != nil {
		return fmt.Errorf("put the new tables in place: %w", err)
	}
	return nil
}

// inTwoSteps is for file systems that cannot exchange names: between the steps there are no tables, and tidy brings back the old ones.
func inTwoSteps(d Disk, root, from, at string) error {
	old := filepath.Join(root, oldName)
	if err := d.Rename(at, old); err != nil {
		return err
	}
	if err := d.Rename(from, at); err != nil {
		return errors.Join(err, d.Rename(old, at))
	}
	return d.RemoveAll(old)
}

// tidy removes what an interrupted Write left, and brings the old tables back where it took them away and no more.
func tidy(d Disk, root string) error {
	old := filepath.Join(root, oldName)
	if _, err := os.Lstat(filepath.Join(root, Folder)); errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Lstat(old); err == nil {
			if err := d.Rename(old, filepath.Join(root, Folder)); err != nil {
				return fmt.Errorf("bring the old tables back: %w", err)
			}
		}
	}
	left, err := filepath.Glob(filepath.Join(literal(root), newPrefix+"*"))
	for _, dir := range append(left, old) {
		err = errors.Join(err, d.RemoveAll(dir))
	}
	if err != nil {
		return fmt.Errorf("clear what an interrupted refresh left: %w", err)
	}
	return nil
}
