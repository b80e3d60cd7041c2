package config

import (
	"strings"
	"unicode/utf8"

	"dynolake/pipeline/config/entry"
)

// UserColumn is an entry of columns.yaml: a column that the user declares as an SQL expression over existing ones.
type UserColumn struct {
	Name, Unit, Formula, Meaning string

	At     entry.Position // Of the name.
	origin entry.Position // Of the formula.
	lines  []string       // Of the file.
}

// readColumns reads columns.yaml. An entry that cannot be used is a problem, and the others go on.
func (c *Config) readColumns(path string) {
	root, err := read(path)
	if err == nil && root.Kind == entry.Null {
		return
	}
	if err != nil {
		c.Problems = append(c.Problems, err)
		return
	}
	lines := strings.Split(fileText(path), "\n")
	forms, top := list(root, "columns")
	if err := top.Err(); err != nil {
		c.Problems = append(c.Problems, err)
	}
	seen := map[string]int{}
	for _, f := range forms {
		f.Close("name", "unit", "formula", "meaning")
		u := UserColumn{Name: f.Text("name"), Unit: f.Text("unit"), Formula: f.Text("formula"), Meaning: f.Text("meaning"),
			At: f.At("name"), origin: f.At("formula"), lines: lines}
		switch {
		case u.Name == "":
			f.Fail(f.Value.At, "name", "found a column without name: want one such as pump_work_kw")
		case u.Formula == "":
			f.Fail(f.Value.At, "formula", "found no formula of %s: want an SQL expression over existing columns, such as map_kpa / baro_kpa", u.Name)
		case seen[u.Name] > 0:
			f.Fail(u.At, "name", "found %q a second time: line %d has it already", u.Name, seen[u.Name])
		}
		seen[u.Name] = u.At.Line
		if err := f.Err(); err != nil {
			c.Problems = append(c.Problems, err)
			continue
		}
		c.Columns = append(c.Columns, u)
	}
}

// Fault is an error at a place in the formula, lines and columns from 1, or at the column's name where line is 0.
func (u UserColumn) Fault(line, column int, text string) error {
	at := u.At
	if line > 0 {
		at = u.place(line, column)
	}
	return at.Errorf(u.Name, "%s", text)
}

// place finds where in the file a place in the formula stands: a text may be quoted, or folded over several lines.
func (u UserColumn) place(line, column int) entry.Position {
	formula := strings.Split(u.Formula, "\n")
	if line > len(formula) {
		return u.origin
	}
	want := strings.TrimSpace(formula[line-1])
	for n := u.origin.Line - 1; n >= 0 && n < len(u.lines) && n < u.origin.Line+len(formula)+1; n++ {
		if i := strings.Index(u.lines[n], want); i >= 0 && want != "" {
			indent := utf8.RuneCountInString(formula[line-1]) - utf8.RuneCountInString(strings.TrimLeft(formula[line-1], " \t"))
			return entry.Position{File: u.origin.File, Line: n + 1, Column: utf8.RuneCountInString(u.lines[n][:i]) + column - indent}
		}
	}
	return u.origin
}
