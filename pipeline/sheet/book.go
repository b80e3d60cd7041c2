package sheet

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/pipeline/config/entry"
)

// maxSheet bounds a sheet, which people write by hand.
const maxSheet = 32 << 20

// book holds the sheets read so far, by folder.
type book struct {
	scope  *scope
	listed map[string][]string
}

// rows gives every entry that concerns what was named, nearest first.
func (b *book) rows(ctx context.Context) ([]*row, error) {
	dirs := map[string]string{} // By absolute path, as the user would write them.
	for sheet, path := range b.scope.sheets {
		dirs[filepath.Dir(sheet)] = filepath.Dir(path)
	}
	for log, f := range b.scope.logs {
		shown := filepath.Dir(f.Path)
		for dir, n := filepath.Dir(log), 0; n <= parents; dir, n = filepath.Dir(dir), n+1 {
			if _, ok := dirs[dir]; !ok {
				dirs[dir] = shown
			}
			shown = filepath.Join(shown, "..")
		}
	}
	var rows []*row
	for _, dir := range slices.Sorted(maps.Keys(dirs)) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for _, r := range b.folder(dirs[dir]) {
			if b.concerned(r) {
				rows = append(rows, r)
			}
		}
	}
	slices.SortFunc(rows, func(x, y *row) int {
		return cmp.Or(cmp.Compare(x.rank, y.rank), cmp.Compare(x.at.File, y.at.File), cmp.Compare(x.at.Line, y.at.Line))
	})
	return rows, nil
}

// concerned reports whether the entry's sheet, or one of its files, was named.
func (b *book) concerned(r *row) bool {
	if _, ok := b.scope.sheets[absolute(r.at.File)]; ok {
		return true
	}
	return slices.ContainsFunc(r.files, func(f File) bool { _, ok := b.scope.logs[f.key]; return ok })
}

// folder reads the sheets of one folder. A sheet that cannot be read is a problem only where it was named, or lies beside what was.
func (b *book) folder(dir string) []*row {
	var rows []*row
	for _, name := range b.list(dir) {
		if !isSheet(name) {
			continue
		}
		path := filepath.Join(dir, name)
		if _, seen := b.scope.sheets[absolute(path)]; !seen && b.scope.wait || !regular(path) {
			continue
		}
		read, err := b.sheet(path)
		if err != nil && b.near(dir, path) {
			b.scope.problem(path, "run_sheet_unreadable", err.Error())
		}
		for _, r := range read {
			b.resolve(dir, name, r)
			rows = append(rows, r)
		}
	}
	return rows
}

// near reports whether the sheet was named or lies in the folder of a named log.
func (b *book) near(dir, path string) bool {
	if _, ok := b.scope.sheets[absolute(path)]; ok {
		return true
	}
	for log := range b.scope.logs {
		if filepath.Dir(log) == absolute(dir) {
			return true
		}
	}
	return false
}

func (b *book) sheet(path string) ([]*row, error) {
	at := entry.Position{File: path, Line: 1, Column: 1}
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("read run sheet: %w", err)
	}
	if info.Size() > maxSheet {
		return nil, at.Errorf("", "found %d bytes: want a run sheet of at most %d", info.Size(), maxSheet)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read run sheet: %w", err)
	}
	text, err := entry.Decode(data)
	if err != nil {
		return nil, at.Errorf("", "%w", err)
	}
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	if isTable(filepath.Base(path)) {
		return readTable(path, text)
	}
	r, err := readSingle(path, text)
	if err != nil {
		return nil, err
	}
	return []*row{r}, nil
}

// resolve finds the files of an entry and how near the sheet is to them.
func (b *book) resolve(dir, name string, r *row) {
	if r.implicit {
		b.beside(dir, name, r)
		return
	}
	for _, n := range r.sheet.Files {
		f, err := b.lookup(dir, n)
		if err != nil && b.scope.wait {
			r.missing = append(r.missing, b.scope.relative(filepath.Join(dir, filepath.FromSlash(strings.ReplaceAll(n, `\`, "/")))))
			continue
		}
		if err != nil {
			r.faults = append(r.faults, r.filesAt.Errorf("files", "%w", err))
			continue
		}
		r.files = append(r.files, f)
	}
	r.rank = 1
	if len(r.files) > 0 {
		if rel, err := filepath.Rel(absolute(dir), filepath.Dir(r.files[0].key)); err == nil && rel != "." {
			r.rank = 2 + strings.Count(filepath.ToSlash(rel), "/")
		}
	}
	if isSingle(name) && r.rank == 1 {
		r.rank = 0
	}
}

// beside lays a NAME.run.yaml that names no files to the log NAME.
func (b *book) beside(dir, name string, r *row) {
	stem := name[:strings.LastIndex(strings.ToLower(name), ".run.")]
	for _, n := range b.list(dir) {
		if isSheet(n) || noLog(n) || strings.HasPrefix(n, ".") {
			continue
		}
		if slices.Contains(stems(n), stem) && b.scope.there(filepath.Join(dir, n)) {
			r.files = append(r.files, b.named(File{Path: filepath.Join(dir, n), Name: n}))
		}
	}
	switch {
	case len(r.files) > 0:
	case b.scope.wait:
		r.missing = append(r.missing, b.scope.relative(filepath.Join(dir, stem)))
	default:
		r.faults = append(r.faults, r.at.Errorf("files", "found no log named %q with any ending beside the sheet: want one, or files: in the sheet", stem))
	}
}

// named gives a file its key, and the path and name under which the user gave it, where they did.
func (b *book) named(f File) File {
	f.key = absolute(f.Path)
	if given, ok := b.scope.logs[f.key]; ok {
		f.Path, f.Name = given.Path, given.Name+f.suffix()
	}
	return f
}

// suffix is how a member is written behind its file's name.
func (f File) suffix() string {
	switch {
	case f.Member == "":
		return ""
	case strings.EqualFold(filepath.Ext(f.Path), ".zip") || strings.EqualFold(filepath.Ext(f.Path), ".tar"):
		return "/" + f.Member
	}
	return "#" + f.Member
}

func (b *book) list(dir string) []string {
	if names, ok := b.listed[dir]; ok {
		return names
	}
	var names []string
	entries, _ := os.ReadDir(dir) // What cannot be listed has no sheet; the file itself is told when it is opened.
	for _, e := range entries {
		if !e.IsDir() {
			names = append(names, e.Name())
		}
	}
	b.listed[dir] = names
	return names
}

// lookup finds a file that a sheet names: relative to the sheet's folder, with either slash, and without regard to case where just one fits.
func (b *book) lookup(dir, name string) (File, error) {
	for _, n := range []string{name, strings.ReplaceAll(name, `\`, "/")} {
		p := n
		if !filepath.IsAbs(p) {
			p = filepath.Join(dir, filepath.FromSlash(n))
		}
		if b.scope.there(p) {
			return b.named(File{Path: p, Name: n}), nil
		}
		if i := strings.LastIndex(p, "#"); i > 0 && b.scope.there(p[:i]) {
			return b.named(File{Path: p[:i], Name: n, Member: p[i+1:]}), nil
		}
		for up := filepath.Dir(p); len(up) > len(dir); up = filepath.Dir(up) {
			if b.scope.there(up) {
				return b.named(File{Path: up, Name: n, Member: filepath.ToSlash(p[len(up)+1:])}), nil
			}
		}
		var alike []string
		for _, have := range b.list(filepath.Dir(p)) {
			if strings.EqualFold(have, filepath.Base(p)) {
				alike = append(alike, have)
			}
		}
		if len(alike) == 1 {
			return b.named(File{Path: filepath.Join(filepath.Dir(p), alike[0]), Name: n}), nil
		}
	}
	var logs []string
	for _, have := range b.list(dir) {
		if !isSheet(have) && !noLog(have) {
			logs = append(logs, have)
		}
	}
	if info, err := os.Stat(filepath.Join(dir, name)); err == nil && info.IsDir() {
		return File{}, fmt.Errorf("found the folder %q: want a file", name)
	}
	if near := entry.Nearest(name, logs); near != "" {
		return File{}, fmt.Errorf("found no file %q in %s: did you mean %q?", name, dir, near)
	}
	return File{}, fmt.Errorf("found no file %q in %s: want a name relative to the sheet's folder", name, dir)
}
