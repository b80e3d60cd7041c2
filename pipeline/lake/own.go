package lake

import (
	"os"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/schema"
)

// Is reports whether a folder is a lake: it has the catalogue and the archive of one.
func Is(dir string) bool {
	catalogue, err := os.Stat(filepath.Join(dir, catalogueName))
	if err != nil || !catalogue.Mode().IsRegular() {
		return false
	}
	archive, err := os.Stat(filepath.Join(dir, "archive"))
	return err == nil && archive.IsDir()
}

// Owns reports whether a path is a lake, or among the files that a lake makes and keeps. Its inbox and its configuration are
// the user's, and so is whatever else he keeps in its folder.
func Owns(path string) bool {
	path, err := filepath.Abs(path)
	if err != nil {
		return false
	}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if Is(path) {
		return true
	}
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		if Is(dir) {
			rel, err := filepath.Rel(dir, path)
			return err == nil && made(strings.Split(rel, string(filepath.Separator))[0])
		}
		if dir == filepath.Dir(dir) {
			return false
		}
	}
}

// made reports whether a file or folder of that name in a lake is the lake's own.
func made(name string) bool {
	if slices.Contains([]string{"archive", "tables", "reports"}, name) || strings.HasPrefix(name, catalogueName) {
		return true
	}
	return slices.ContainsFunc(schema.Tables(), func(t schema.Table) bool { return t.Name == name })
}
