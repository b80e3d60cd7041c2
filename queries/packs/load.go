package packs

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"dynolake/queries/tokens"
	"dynolake/schema"
)

//go:embed */*.sql */*.test/*/*
var ours embed.FS

// Where fragments lie that queries include; no query lies there.
const fragments = "include"

// piece is a stretch of a query's text that lies in one file.
type piece struct {
	text   string
	tokens []tokens.Token
}

// Load reads our packs and, where userDir is not empty and exists, the user's (userDir/PACK/QUERY.sql). A user's pack that is
// broken is left out and named in Problems; the error is for a folder that cannot be read.
func Load(userDir string) (*Set, error) {
	s := &Set{userDir: userDir}
	files, err := fs.Glob(ours, "*/*.sql")
	if err != nil {
		return nil, fmt.Errorf("list built-in queries: %w", err)
	}
	for _, f := range files {
		if path.Dir(f) == fragments {
			continue
		}
		text, err := fs.ReadFile(ours, f)
		if err != nil {
			return nil, fmt.Errorf("read built-in query: %w", err)
		}
		p, faults := parse("queries/packs/"+f, strings.TrimSuffix(f, ".sql"), string(text))
		if len(faults) > 0 {
			return nil, fmt.Errorf("read built-in query: %w", errors.Join(faults...)) // A broken build, not a user's error.
		}
		s.packs = append(s.packs, p)
	}
	if userDir == "" {
		return s, nil
	}
	if err := s.loadUser(); err != nil {
		return nil, err
	}
	return s, nil
}

func (s *Set) loadUser() error {
	if _, err := os.Stat(s.userDir); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	dir := os.DirFS(s.userDir)
	if _, err := fs.ReadDir(dir, "."); err != nil {
		return fmt.Errorf("read the folder of packs: %w", err)
	}
	files, err := fs.Glob(dir, "*/*.sql")
	if err != nil {
		return fmt.Errorf("list the packs in %s: %w", s.userDir, err)
	}
	for _, f := range files {
		file := filepath.Join(s.userDir, filepath.FromSlash(f))
		name := strings.TrimSuffix(f, ".sql")
		text, err := fs.ReadFile(dir, f)
		if err != nil {
			s.Problems = append(s.Problems, fault{file, 1, 1, fmt.Sprintf("cannot be read: %v", err)})
			continue
		}
		if slices.ContainsFunc(s.packs, func(p *Pack) bool { return p.Name == name }) {
			s.Problems = append(s.Problems, fault{file, 1, 1, fmt.Sprintf("the name %q is one of ours: give the file another name", name)})
			continue
		}
		p, faults := parse(file, name, string(text))
		if len(faults) > 0 {
			s.Problems = append(s.Problems, faults...)
			continue
		}
		p.User = true
		s.packs = append(s.packs, p)
	}
	return nil
}

// parse reads one query and what it includes.
func parse(file, name, text string) (*Pack, []error) {
	text = strings.ReplaceAll(strings.TrimPrefix(text, "\ufeff"), "\r\n", "\n")
	if !utf8.ValidString(text) {
		return nil, []error{fault{file, 1, 1, "the file is not UTF-8: save it as UTF-8"}}
	}
	h := parseHeader(file, text)
	faults := h.faults
	if h.title == "" && len(faults) == 0 {
		faults = append(faults, fault{file, 1, 1, "there is no title: want a line `-- title: …` at the head"})
	}
	p := &Pack{Name: name, Title: h.title, Question: h.question, Params: h.params, Columns: h.columns, Plot: h.plot, Apart: h.apart, File: file}
	if h.plot != "" {
		var err error
		if p.Pictures, err = parsePictures(h.plot, h.columns); err != nil {
			faults = append(faults, fault{file, h.plotAt.line, h.plotAt.column, err.Error()})
		}
	}
	sources := p.assemble(file, text, &faults)
	empty := true
	for i, s := range p.pieces {
		faults = append(faults, p.check(sources[i], s)...)
		for _, t := range s.tokens {
			empty = empty && (t.Kind == tokens.Inert && !strings.HasPrefix(t.Text, "'") || strings.Trim(t.Text, " \t\n;") == "")
		}
	}
	if empty {
		faults = append(faults, fault{file, 1 + strings.Count(text, "\n"), 1, "there is no SQL after the header"})
	}
	return p, faults
}

var includeLine = regexp.MustCompile(`(?m)^[ \t]*--[ \t]*include:[ \t]*(\S*)[ \t]*$`)

// source says where a piece begins.
type source struct {
	file string
	line int
}

// assemble cuts a query at its include lines and puts the fragments in, with their parameters. A fragment may include others.
func (p *Pack) assemble(file, text string, faults *[]error) []source {
	return p.assembleFrom(source{file, 1}, text, faults)
}

func (p *Pack) assembleFrom(at source, text string, faults *[]error) []source {
	var sources []source
	add := func(from, to int) {
		p.pieces = append(p.pieces, piece{text[from:to], tokens.Cut(text[from:to])})
		sources = append(sources, source{at.file, at.line + strings.Count(text[:from], "\n")})
	}
	start := 0
	for _, m := range includeLine.FindAllStringSubmatchIndex(text, -1) {
		add(start, m[0])
		start = m[1]
		name := text[m[2]:m[3]]
		f := path.Join(fragments, name+".sql")
		part, err := fs.ReadFile(ours, f)
		if name == everyColumn {
			part, err = []byte(everyColumnSQL()), nil
		}
		if err != nil {
			*faults = append(*faults, fault{at.file, at.line + strings.Count(text[:m[0]], "\n"), 1 + m[2] - strings.LastIndexByte(text[:m[2]], '\n') - 1, p.unknownFragment(name)})
			continue
		}
		h := parseHeader("queries/packs/"+f, string(part))
		*faults = append(*faults, h.faults...)
		for _, d := range h.params {
			if !slices.ContainsFunc(p.Params, func(o Param) bool { return o.Name == d.Name }) {
				p.Params = append(p.Params, d)
			}
		}
		body := strings.TrimRight(after(string(part), h.lines), "\n")
		sources = append(sources, p.assembleFrom(source{"queries/packs/" + f, 1 + h.lines}, body, faults)...)
	}
	add(start, len(text))
	return sources
}

// everyColumn is the fragment that is made from the catalogue: of curves c, the column whose name is b.quantity.
const everyColumn = "every_column"

func everyColumnSQL() string {
	var b strings.Builder
	b.WriteString("CASE b.quantity")
	for _, c := range schema.Columns() {
		if strings.HasPrefix(c.Type, "float") {
			fmt.Fprintf(&b, " WHEN '%s' THEN c.%s", c.Name, c.Name)
		}
	}
	b.WriteString(" END\n")
	return b.String()
}

func (p *Pack) unknownFragment(name string) string {
	files, _ := fs.Glob(ours, fragments+"/*.sql") // The pattern is right, and that is the only error.
	for i, f := range files {
		files[i] = strings.TrimSuffix(path.Base(f), ".sql")
	}
	return fmt.Sprintf("nothing to include is called %q%s: there are %s", name, suggest(name, files), strings.Join(files, ", "))
}

// check holds that every $NAME is a declared parameter.
func (p *Pack) check(at source, s piece) []error {
	var faults []error
	for _, t := range s.tokens {
		if t.Kind != tokens.Variable || slices.ContainsFunc(p.Params, func(d Param) bool { return d.Name == t.Text[1:] }) {
			continue
		}
		names := make([]string, len(p.Params))
		for i, d := range p.Params {
			names[i] = d.Name
		}
		before := s.text[:t.Offset]
		line := at.line + strings.Count(before, "\n")
		column := 1 + utf8.RuneCountInString(before[strings.LastIndexByte(before, '\n')+1:])
		faults = append(faults, fault{at.file, line, column, fmt.Sprintf("%s is no declared parameter%s: declare it with `-- param %s: type, default, unit, meaning`",
			t.Text, suggest(t.Text[1:], names), t.Text[1:])})
	}
	return faults
}

// after is what follows the first n lines.
func after(text string, n int) string {
	for ; n > 0; n-- {
		_, text, _ = strings.Cut(text, "\n")
	}
	return text
}
