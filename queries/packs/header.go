package packs

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"dynolake/schema"
)

// fault is something wrong at a place in a file.
type fault struct {
	file         string
	line, column int
	text         string
}

func (f fault) Error() string { return fmt.Sprintf("%s:%d:%d: %s", f.file, f.line, f.column, f.text) }

// entry is a line `-- key: value` of a header, with the lines that continue it.
type entry struct {
	key, name    string // name: what a param or column line declares.
	value        string
	line, column int // Of the value.
}

// header is what the comment lines at the head of a file declare.
type header struct {
	title, question, plot string
	params                []Param
	columns               []Column
	plotAt                entry
	apart                 []string
	lines                 int // How many lines it takes.
	faults                []error
}

func keys() []string { return []string{"title", "question", "param", "column", "plot", "apart"} }

var (
	entryLine    = regexp.MustCompile(`^--[ \t]*([A-Za-z_]+)(?:[ \t]+([A-Za-z_][A-Za-z0-9_]*))?[ \t]*:[ \t]*`)
	continueLine = regexp.MustCompile(`^--[ \t]{2,}`)
)

// parseHeader reads the header of a file. A line that begins with two blanks after its dashes goes on with the one before.
// Other comments are let be, save those that look like a misspelt key.
func parseHeader(file, text string) header {
	var h header
	entries := readEntries(file, text, &h)
	seen := map[string]bool{}
	for _, e := range entries {
		id := e.key + " " + e.name
		if seen[id] {
			h.faults = append(h.faults, fault{file, e.line, 1, fmt.Sprintf("%q is declared twice", strings.TrimSpace(id))})
			continue
		}
		seen[id] = true
		if err := h.take(e); err != nil {
			h.faults = append(h.faults, fault{file, e.line, e.column, err.Error()})
		}
	}
	return h
}

func readEntries(file, text string, h *header) []entry {
	var entries []entry
	open := false // Whether the line before can be continued.
	for n, line := range strings.Split(text, "\n") {
		if trimmed := strings.TrimSpace(line); trimmed != "" && !strings.HasPrefix(trimmed, "--") {
			break
		}
		h.lines = n + 1
		if m := continueLine.FindString(line); m != "" && open {
			entries[len(entries)-1].value += " " + strings.TrimSpace(line[len(m):])
			continue
		}
		open = false
		m := entryLine.FindStringSubmatchIndex(line)
		if m == nil {
			continue
		}
		e := entry{key: line[m[2]:m[3]], value: strings.TrimSpace(line[m[1]:]), line: n + 1, column: 1 + utf8.RuneCountInString(line[:m[1]])}
		if m[4] >= 0 {
			e.name = line[m[4]:m[5]]
		}
		if e.key == "include" {
			h.lines = n // It stands for SQL.
			break
		}
		if !slices.Contains(keys(), e.key) {
			if near := schema.Nearest(e.key, keys()); near != "" && len(e.key) > 2 && e.key != "note" {
				h.faults = append(h.faults, fault{file, n + 1, 1 + strings.Index(line, e.key), fmt.Sprintf("unknown key %q (did you mean %q?)", e.key, near)})
			}
			continue
		}
		entries = append(entries, e)
		open = true
	}
	return entries
}

// take puts an entry into the header.
func (h *header) take(e entry) error {
	if named := e.key == "param" || e.key == "column"; named != (e.name != "") {
		if named {
			return fmt.Errorf("%s without a name: want `-- %s NAME: …`", e.key, e.key)
		}
		return fmt.Errorf("found %q, want `-- %s: …`", e.key+" "+e.name, e.key)
	}
	if e.value == "" {
		return fmt.Errorf("%s has no value", strings.TrimSpace(e.key+" "+e.name))
	}
	switch e.key {
	case "title":
		h.title = e.value
	case "question":
		h.question = e.value
	case "plot":
		h.plot, h.plotAt = e.value, e
	case "apart":
		h.apart = names(e.value)
		if h.apart[len(h.apart)-1] != "vehicle" {
			return fmt.Errorf("found %q, want the columns that the answer is ordered by up to vehicle", e.value)
		}
	case "column":
		unit, meaning, ok := strings.Cut(e.value, ",")
		if !ok {
			return fmt.Errorf("found %q, want `-- column %s: unit, meaning`", e.value, e.name)
		}
		h.columns = append(h.columns, Column{e.name, strings.TrimSpace(unit), strings.TrimSpace(meaning)})
	case "param":
		p, err := parseParam(e.name, e.value)
		if err != nil {
			return err
		}
		h.params = append(h.params, p)
	}
	return nil
}

func names(list string) []string {
	parts := strings.Split(list, ",")
	for i, p := range parts {
		parts[i] = strings.TrimSpace(p)
	}
	return parts
}

// spelled gives a default that is written as SQL writes a text, in single quotes, in double ones, in which a list has its texts too.
func spelled(s string) string {
	if len(s) > 1 && s[0] == '\'' && s[len(s)-1] == '\'' {
		return `"` + strings.ReplaceAll(s[1:len(s)-1], "''", "'") + `"`
	}
	return s
}

func parseParam(name, value string) (Param, error) {
	f := split(value)
	if len(f) < 4 {
		return Param{}, fmt.Errorf("found %q, want `-- param %s: type, default, unit, meaning`", value, name)
	}
	for i := range f {
		f[i] = strings.TrimSpace(f[i])
	}
	p := Param{Name: name, Type: f[0], Default: spelled(f[1]), Unit: f[2], Meaning: strings.TrimSpace(strings.Join(f[3:], ", "))}
	if !knownType(p.Type) {
		return p, fmt.Errorf("unknown type %q%s, want %s", p.Type, suggest(p.Type, types()), strings.Join(types(), ", "))
	}
	var err error
	if p.literal, err = p.Literal(p.Default); err != nil {
		return p, fmt.Errorf("default of %s: %w", name, err)
	}
	return p, nil
}
