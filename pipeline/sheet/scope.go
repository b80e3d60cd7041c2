package sheet

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/schema"
)

// scope is what the user named.
type scope struct {
	leave    map[string]bool
	wait     bool              // Nothing but what was found counts as there.
	root     string            // The folder that was named last.
	logs     map[string]File   // By absolute path.
	sheets   map[string]string // Sheets that were named or lie in a named folder: their paths by the absolute ones.
	problems []schema.Finding
	skipped  []string
}

// add takes in one named path.
func (s *scope) add(ctx context.Context, path string) error {
	info, err := os.Stat(path)
	if err != nil {
		why := err.Error()
		if errors.Is(err, fs.ErrNotExist) {
			why = "there is no such file or folder"
		}
		s.problem(path, "path_missing", fmt.Sprintf("found no %q: %s", path, why))
		return nil
	}
	if !info.IsDir() {
		s.named(path, info.Mode())
		return nil
	}
	root := path
	if real, err := filepath.EvalSymlinks(path); err == nil && isLink(path) {
		root = real // WalkDir does not follow a link, not even the first.
	}
	s.root = root
	return filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			s.problem(p, "path_unreadable", err.Error())
			return nil
		}
		if p == root {
			return nil
		}
		hidden := strings.HasPrefix(d.Name(), ".")
		if d.IsDir() {
			if hidden || s.leave[absolute(p)] {
				return fs.SkipDir
			}
			return nil
		}
		name, relErr := filepath.Rel(root, p)
		if relErr != nil {
			name = d.Name()
		}
		switch {
		case hidden || strings.HasPrefix(d.Name(), "~$") || s.leave[absolute(p)]:
		case !isSheet(d.Name()) && noLog(d.Name()):
			s.skipped = append(s.skipped, p)
		case regular(p):
			s.file(p, filepath.ToSlash(name))
		default:
			s.skipped = append(s.skipped, p) // A pipe, a device, a link to nothing.
		}
		return nil
	})
}

// named takes in what the user named and is no folder.
func (s *scope) named(path string, mode fs.FileMode) {
	switch {
	case !mode.IsRegular(): // Opening a pipe waits for a writer, and a device may never end.
		s.problem(path, "path_unreadable", fmt.Sprintf("found %q to be %s: expected a file, whose bytes can be read more than once; copy it into one first", path, special(mode)))
	case strings.EqualFold(filepath.Ext(path), ".dbc"):
		s.skipped = append(s.skipped, path) // It lies beside its logs and is read with them.
	default:
		s.file(path, filepath.Base(path))
	}
}

// special names what is neither file nor folder.
func special(mode fs.FileMode) string {
	switch {
	case mode&fs.ModeNamedPipe != 0:
		return "a pipe"
	case mode&fs.ModeSocket != 0:
		return "a socket"
	}
	return "a device"
}

func (s *scope) file(path, name string) {
	abs := absolute(path)
	if isSheet(filepath.Base(path)) {
		s.sheets[abs] = path
		return
	}
	if _, ok := s.logs[abs]; !ok {
		s.logs[abs] = File{Path: path, Name: name, key: abs}
	}
}

func (s *scope) problem(source, code, text string) {
	s.problems = append(s.problems, finding(source, schema.Rejected, code, "", text))
}

// there reports whether a file that a sheet names can be taken.
func (s *scope) there(path string) bool {
	if s.wait {
		_, ok := s.logs[absolute(path)]
		return ok
	}
	return regular(path)
}

// relative names a path as the files of the named folder are named.
func (s *scope) relative(path string) string {
	if rel, err := filepath.Rel(absolute(s.root), absolute(path)); err == nil {
		path = rel
	}
	return filepath.ToSlash(path)
}

func isLink(path string) bool {
	info, err := os.Lstat(path)
	return err == nil && info.Mode()&fs.ModeSymlink != 0
}

func regular(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}

// Is reports whether a file of that name is a run sheet.
func Is(name string) bool { return isSheet(path.Base(filepath.ToSlash(name))) }

// Aside reports whether a file of that name lies beside logs and is plainly none.
func Aside(name string) bool { return noLog(path.Base(filepath.ToSlash(name))) }

func isSheet(name string) bool { return isTable(name) || isSingle(name) }

func isTable(name string) bool { return strings.EqualFold(name, "runs.csv") }

func isSingle(name string) bool {
	name = strings.ToLower(name)
	return strings.HasSuffix(name, ".run.yaml") || strings.HasSuffix(name, ".run.yml")
}

// endings of files that lie beside logs and are none: documents, pictures, programs, descriptions of buses and what is only half there.
var endings = []string{
	".md", ".markdown", ".pdf", ".doc", ".docx", ".odt", ".rtf", ".ppt", ".pptx", ".htm", ".html", ".png", ".jpg", ".jpeg", ".gif", ".svg", ".bmp", ".webp", ".heic",
	".mp4", ".mov", ".avi", ".mkv", ".mp3", ".wav", ".yaml", ".yml", ".toml", ".ini", ".dbc", ".arxml", ".a2l", ".kcd", ".sym", ".py", ".sql", ".sh", ".bat", ".exe", ".dll", ".lnk", ".url",
	".tmp", ".part", ".crdownload", ".bak", ".swp",
}

// noLog reports whether a file found in a folder is plainly no log, by its name.
func noLog(name string) bool {
	name = strings.ToLower(name)
	for _, begin := range []string{"readme", "license", "licence", "copying", "thumbs.db", "desktop.ini"} {
		if strings.HasPrefix(name, begin) {
			return true
		}
	}
	return slices.Contains(endings, filepath.Ext(name))
}

// stems are the names that a log's NAME.run.yaml may have: without its ending, and without the one under a .gz.
func stems(name string) []string {
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	out := []string{name, stem}
	switch strings.ToLower(filepath.Ext(name)) {
	case ".gz", ".zst", ".bz2", ".xz":
		out = append(out, strings.TrimSuffix(stem, filepath.Ext(stem)))
	}
	return out
}
