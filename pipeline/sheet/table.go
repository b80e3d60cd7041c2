package sheet

import (
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"dynolake/pipeline/config/entry"
)

// titleRows is how many lines may stand above the headings.
const titleRows = 20

// readTable reads a runs.csv: headings, then a row an entry. The separator is the one under which the headings hold the most
// fields. The error is one that leaves no entry usable.
func readTable(path, text string) ([]*row, error) {
	at := entry.Position{File: path, Line: 1, Column: 1}
	comma, skip, cols, err := headings(at, text)
	if err != nil || comma == 0 {
		return nil, err
	}
	var rows []*row
	lines := strings.Split(text, "\n")
	r := newReader(text, comma)
	for n := 0; ; n++ {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			var bad *csv.ParseError
			if errors.As(err, &bad) {
				at.Line, at.Column = bad.Line, max(bad.Column, 1)
			}
			return rows, at.Errorf("", "read row: %w", err)
		}
		if n <= skip || blank(record) || repeated(record, cols) {
			continue
		}
		place := func(i int) entry.Position {
			line, column := r.FieldPos(i)
			return entry.Position{File: path, Line: line, Column: runes(lines, line, column)}
		}
		rows = append(rows, tableRow(record, cols, place))
	}
}

func tableRow(record []string, cols []cell, place func(int) entry.Position) *row {
	var cells []cell
	for i, c := range cols {
		if i >= len(record) {
			break
		}
		c.at = place(i)
		c.texts = []string{record[i]}
		if c.field == "files" {
			c.texts = names(record[i])
		}
		if c.field != "" || c.name != "" {
			cells = append(cells, c)
		}
	}
	out := makeRow(place(0), cells)
	if len(record) > len(cols) && !blank(record[len(cols):]) {
		i := len(cols)
		out.faults = append(out.faults, place(i).Errorf("", "found %q, a cell more than there are headings (%d): put a cell that holds the separator in double quotes", record[i], len(cols)))
	}
	if len(out.sheet.Files) == 0 {
		c := place(0)
		if i := slices.IndexFunc(cols, func(c cell) bool { return c.field == "files" }); i < len(record) {
			c = place(i)
		}
		out.faults = append(out.faults, c.Errorf("files", "found a row without files: want a log's name, or several with ; between"))
	}
	return out
}

// names splits a cell of file names.
func names(text string) []string {
	var out []string
	for _, n := range strings.FieldsFunc(text, func(r rune) bool { return r == ';' || r == '\n' || r == '|' }) {
		if n = strings.TrimSpace(n); n != "" {
			out = append(out, n)
		}
	}
	return out
}

// headings finds the separator, how many records stand before the first entry, and what each column is.
func headings(at entry.Position, text string) (comma rune, skip int, cols []cell, err error) {
	best := 0
	for _, c := range []rune{',', ';', '\t', '|'} {
		r := newReader(text, c)
		for n := 0; n < titleRows; n++ {
			record, readErr := r.Read()
			if readErr != nil {
				break
			}
			found, known, hasFiles := columns(record)
			line, _ := r.FieldPos(0)
			if hasFiles && known > best {
				best, comma, skip, cols = known, c, n, found
				at.Line = line
			}
		}
	}
	switch {
	case strings.TrimSpace(text) == "":
		return 0, 0, nil, nil
	case best == 0:
		return 0, 0, nil, at.Errorf("", "found %q: want a row of headings with files among %s", firstLine(text), strings.Join(fields, ", "))
	}
	seen := map[string]string{}
	for _, c := range cols {
		if before, ok := seen[c.field]; ok && c.field != "" {
			return 0, 0, nil, at.Errorf(c.field, "found the headings %q and %q, which both mean %s: want one", before, c.name, c.field)
		}
		seen[c.field] = c.name
	}
	return comma, skip, cols, nil
}

func columns(record []string) (cols []cell, known int, files bool) {
	for _, text := range record {
		c := cell{name: strings.TrimSpace(text)}
		c.field, c.unit = heading(text)
		if c.field != "" {
			known++
		}
		files = files || c.field == "files"
		cols = append(cols, c)
	}
	for len(cols) > 0 && cols[len(cols)-1].name == "" {
		cols = cols[:len(cols)-1]
	}
	return cols, known, files
}

func newReader(text string, comma rune) *csv.Reader {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes = comma, -1, true
	return r
}

func blank(record []string) bool {
	return !slices.ContainsFunc(record, func(s string) bool { return strings.TrimSpace(s) != "" })
}

// repeated tells a heading row that comes again, as when two sheets were pasted into one.
func repeated(record []string, cols []cell) bool {
	for i, c := range cols {
		if i >= len(record) || strings.TrimSpace(record[i]) != c.name {
			return false
		}
	}
	return true
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(strings.TrimSpace(text), "\n")
	line = strings.TrimSpace(line)
	if len(line) > 80 {
		line = strings.ToValidUTF8(line[:80], "") + "…"
	}
	return line
}

// runes turns a column counted in bytes into one counted in characters.
func runes(lines []string, line, column int) int {
	if line < 1 || line > len(lines) || column-1 > len(lines[line-1]) {
		return column
	}
	return utf8.RuneCountInString(lines[line-1][:column-1]) + 1
}
