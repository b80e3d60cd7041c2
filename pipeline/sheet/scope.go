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
	options  Options
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
	if s.options.Owns != nil && s.options.Owns(path) {
		s.problem(path, "path_in_lake", fmt.Sprintf("found %q to be a lake's own: expected logs; what it holds was made of logs that it keeps (reprocess makes it anew)", path))
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
		if d.IsDir() {
			return s.folder(p)
		}
		s.entry(p, d.Type())
		return nil
	})
}

// folder tells whether a folder below the named one is looked into.
func (s *scope) folder(path string) error {
	switch {
	case strings.HasPrefix(filepath.Base(path), ".") || s.leave[absolute(path)]:
		return fs.SkipDir
	case s.options.Lake != nil && s.options.Lake(path):
		s.skipped = append(s.skipped, path)
		return fs.SkipDir
	}
	return nil
}

// entry takes in what lies in the named folder and is no folder.
func (s *scope) entry(path string, mode fs.FileMode) {
	base := filepath.Base(path)
	name, err := filepath.Rel(s.root, path)
	if err != nil {
		name = base
	}
	switch {
	case strings.HasPrefix(base, ".") || strings.HasPrefix(base, "~$") || s.leave[absolute(path)]:
	case !isSheet(base) && noLog(base):
		s.skipped = append(s.skipped, path)
	case mode.IsRegular():
		s.file(path, filepath.ToSlash(name))
	case mode&fs.ModeSymlink != 0:
		s.link(path, filepath.ToSlash(name))
	default: // Opening a pipe waits for a writer, and a device may never end.
		s.problem(path, "path_unreadable", fmt.Sprintf("found %q to be %s: expected a file; copy what it gives into one first", name, special(mode)))
	}
}

// link takes in a link to a file of the named folder. Where it leads elsewhere, another than the user may have laid it.
func (s *scope) link(path, name string) {
	to, err := filepath.EvalSymlinks(path)
	root, rootErr := filepath.EvalSymlinks(s.root)
	if err != nil || rootErr != nil {
		s.problem(path, "path_unreadable", fmt.Sprintf("found %q to be a link that leads to nothing: expected a file", name))
		return
	}
	info, err := os.Stat(to)
	inside, relErr := filepath.Rel(absolute(root), absolute(to))
	switch {
	case err != nil || relErr != nil || inside == ".." || strings.HasPrefix(inside, ".."+string(filepath.Separator)):
		s.problem(path, "path_leads_out", fmt.Sprintf("found %q to be a link that leads out of the folder: expected a file; copy it there or name the file itself", name))
	case info.IsDir(): // It is looked into under its own name.
	case info.Mode().IsRegular():
		s.file(path, name)
	default:
		s.problem(path, "path_unreadable", fmt.Sprintf("found %q to be a link to %s: expected a file", name, special(info.Mode())))
	}
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
