package pipeline

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"dynolake/pipeline/read"
	"dynolake/pipeline/sheet"
	"dynolake/schema"
)

// within lists what of an archive is a run: each file is one of its own, unless a run sheet in the archive says otherwise. Members
// that sheets beside the archive name are left to them. It is false for a file that is no archive of several files.
func (s *shelf) within(ctx context.Context, f sheet.File, named []string) (found sheet.Found, ok bool, err error) {
	files, _, err := s.unpack(ctx, "file "+f.Path, fileSource(f))
	if err != nil || len(files) == 1 && files[0].Name == base(f) {
		return found, false, ctx.Err() // What is wrong with the file is told when it is read.
	}
	dir, err := os.MkdirTemp("", "dynolake-archive-")
	if err != nil {
		return found, false, fmt.Errorf("look for run sheets in %s: %w", f.Name, err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	for _, file := range files {
		rel := strings.TrimPrefix(file.Name, base(f)+"/")
		if slices.ContainsFunc(named, func(m string) bool { return m == rel || strings.HasPrefix(m, rel+"#") }) || named != nil && sheet.Is(rel) {
			continue
		}
		if err := stand(ctx, dir, rel, file); err != nil {
			if ctx.Err() != nil {
				return found, false, ctx.Err()
			}
			found.Runs = append(found.Runs, sheet.Spec{Files: []sheet.File{{Path: f.Path, Name: file.Name, Member: rel}}, Sheet: sheet.Empty(), Rank: -1})
		}
	}
	inside, err := sheet.Find(ctx, []string{dir}, sheet.Options{})
	if err != nil {
		return found, false, err
	}
	renamed := renaming{f: f, dir: dir, text: strings.NewReplacer(dir+string(filepath.Separator), base(f)+"/", dir, base(f))}
	for i := range inside.Runs {
		renamed.spec(&inside.Runs[i])
	}
	for i := range inside.Refused {
		renamed.spec(&inside.Refused[i])
	}
	renamed.findings(inside.Findings)
	inside.Runs = append(inside.Runs, found.Runs...)
	return inside, named != nil || len(inside.Runs)+len(inside.Refused)+len(inside.Findings) > 0, nil
}

// stand puts a stand-in for a member into a folder, where run sheets are looked for: empty, save for the sheets themselves.
func stand(ctx context.Context, dir, rel string, file schema.Source) error {
	p := filepath.Join(dir, filepath.FromSlash(rel))
	if err := os.MkdirAll(filepath.Dir(p), 0o700); err != nil {
		return err
	}
	out, err := os.OpenFile(p, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if !sheet.Is(rel) {
		return out.Close()
	}
	in, err := file.Open()
	if err != nil {
		return errors.Join(err, out.Close())
	}
	_, err = io.Copy(out, stoppable{ctx, io.LimitReader(in, mostSheet)})
	return errors.Join(err, in.Close(), out.Close())
}

// mostSheet is more than any run sheet may have.
const mostSheet = 33 << 20

// renaming gives what was found among the stand-ins the names that it has in the archive.
type renaming struct {
	f    sheet.File
	dir  string
	text *strings.Replacer
}

func (r renaming) spec(s *sheet.Spec) {
	for i, f := range s.Files {
		rel, err := filepath.Rel(r.dir, f.Path)
		if err != nil {
			rel = filepath.Base(f.Path)
		}
		rel = filepath.ToSlash(rel)
		if f.Member != "" {
			rel += "#" + f.Member
		}
		s.Files[i] = sheet.File{Path: r.f.Path, Name: base(r.f) + "/" + rel, Member: rel}
	}
	s.Sheet.Origin = r.text.Replace(s.Sheet.Origin)
	r.findings(s.Findings)
}

func (r renaming) findings(list []schema.Finding) {
	for i := range list {
		list[i].Source, list[i].Text = r.text.Replace(list[i].Source), r.text.Replace(list[i].Text)
	}
}

// part parts the archives among the runs that a search found.
func (s *shelf) part(ctx context.Context, runs []sheet.Spec) (sheet.Found, error) {
	var all sheet.Found
	named, files := map[string][]string{}, map[string]sheet.File{}
	take := func(f sheet.File, members []string) (bool, error) {
		found, ok, err := s.within(ctx, f, members)
		if ok && err == nil {
			all.Runs = append(all.Runs, found.Runs...)
			all.Refused = append(all.Refused, found.Refused...)
			all.Findings = append(all.Findings, found.Findings...)
		}
		return ok, err
	}
	for _, spec := range runs {
		if spec.Rank < 0 && len(spec.Files) == 1 && spec.Files[0].Member == "" {
			if ok, err := take(spec.Files[0], nil); ok || err != nil {
				if err != nil {
					return all, err
				}
				continue
			}
		}
		for _, f := range spec.Files {
			if f.Member != "" {
				named[f.Path], files[f.Path] = append(named[f.Path], f.Member), f
			}
		}
		all.Runs = append(all.Runs, spec)
	}
	for _, path := range slices.Sorted(maps.Keys(named)) {
		f := files[path]
		if _, err := take(sheet.File{Path: path, Name: base(f)}, named[path]); err != nil {
			return all, err
		}
	}
	return all, nil
}

// base is the name of the file that a member is in.
func base(f sheet.File) string {
	if f.Member == "" {
		return f.Name
	}
	name := strings.ReplaceAll(f.Name, `\`, "/")
	for _, separator := range []string{"/", "#"} {
		if b, ok := strings.CutSuffix(name, separator+f.Member); ok {
			return b
		}
	}
	return filepath.Base(f.Path)
}

func fileSource(f sheet.File) schema.Source {
	return schema.Source{Name: base(f), Size: size(f.Path), Open: func() (io.ReadCloser, error) { return os.Open(f.Path) }}
}

// members lists the sources of a file: the file itself, or those that it packs. The error is one of reading the file.
func (s *shelf) members(ctx context.Context, f sheet.File) ([]member, error) {
	sum, bytes, err := hash(ctx, f.Path)
	if err != nil {
		return nil, err
	}
	whole := member{Source: base(f), SHA256: sum, Bytes: bytes, At: f.Member}
	if f.Member != "" {
		whole.Source += "#" + f.Member
	}
	packed, err := read.Packed(ctx, fileSource(f))
	if err == nil && !packed {
		whole.Databases, err = beside(ctx, f, fileSource(f), nil)
		return []member{whole}, err
	}
	if err != nil {
		return []member{whole}, ctx.Err()
	}
	files, _, err := s.unpack(ctx, "file "+f.Path, fileSource(f))
	if err != nil {
		return []member{whole}, ctx.Err() // Why is told when it is read.
	}
	var list []member
	for _, file := range files {
		m := member{Source: file.Name, SHA256: sum, Bytes: bytes, In: strings.TrimPrefix(strings.TrimPrefix(file.Name, base(f)), "/")}
		if !m.chosen(f.Member) {
			continue
		}
		if m.Databases, err = beside(ctx, f, file, packedBeside(files, base(f), file.Name)); err != nil {
			return nil, err
		}
		m.Leaf, m.Unpacked, err = sumOf(ctx, file)
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			m.mend(ctx, file) // Where nothing can be had, why is told when it is read.
		}
		list = append(list, m)
	}
	if len(list) == 0 {
		return []member{whole}, nil // It names a member that is not there.
	}
	return list, nil
}

// chosen reports whether a member of an archive is what a run sheet names, or a log where it names the archive as a whole. What is
// named within it, a sheet of a workbook, goes to the member.
func (m *member) chosen(name string) bool {
	switch {
	case name == "":
		return m.In == "" || !sheet.Is(m.In) && !sheet.Aside(m.In)
	case name == m.In:
		return true
	case m.In != "" && !strings.HasPrefix(name, m.In+"#"):
		return false
	}
	m.At = strings.TrimPrefix(strings.TrimPrefix(name, m.In), "#")
	m.Source += "#" + m.At
	return true
}
