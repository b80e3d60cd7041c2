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
func swap(root, fresh string) error {
	at, from := filepath.Join(root, Folder), filepath.Join(root, fresh)
	_, err := os.Lstat(at)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = os.Rename(from, at)
	case err == nil:
		if err = exchange(from, at); err != nil {
			err = inTwoSteps(root, from, at)
		}
	}
	if err == nil {
		err = syncDir(root)
	}
	if err == nil {
		err = os.RemoveAll(from) // The old tables are there now.
	}
	if err != nil {
		return fmt.Errorf("put the new tables in place: %w", err)
	}
	return nil
}

// inTwoSteps is for file systems that cannot exchange names: between the steps there are no tables, and tidy brings back the old ones.
func inTwoSteps(root, from, at string) error {
	old := filepath.Join(root, oldName)
	if err := os.Rename(at, old); err != nil {
		return err
	}
	if err := os.Rename(from, at); err != nil {
		return errors.Join(err, os.Rename(old, at))
	}
	return os.RemoveAll(old)
}

// tidy removes what an interrupted Write left, and brings the old tables back where it took them away and no more.
func tidy(root string) error {
	old := filepath.Join(root, oldName)
	if _, err := os.Lstat(filepath.Join(root, Folder)); errors.Is(err, fs.ErrNotExist) {
		if err := os.Rename(old, filepath.Join(root, Folder)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("bring the old tables back: %w", err)
		}
	}
	left, err := filepath.Glob(filepath.Join(literal(root), newPrefix+"*"))
	for _, dir := range append(left, old) {
		err = errors.Join(err, os.RemoveAll(dir))
	}
	if err != nil {
		return fmt.Errorf("clear what an interrupted refresh left: %w", err)
	}
	return nil
}
