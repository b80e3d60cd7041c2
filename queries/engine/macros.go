package engine

import (
	"context"
	_ "embed"
	"fmt"
	"regexp"
	"strings"
)

//go:embed macros.sql
var macrosSQL string

// MacrosSQL is the text that defines the macros.
func MacrosSQL() string { return macrosSQL }

// Macro is a function that queries may use beside SQL's own.
type Macro struct {
	Call    string // With the names of its arguments: bin_mid(x, width).
	Meaning string
	SQL     string // What it stands for.
}

var macroLine = regexp.MustCompile(`(?i)^CREATE MACRO (\w+)\(([^)]*)\) AS (.*)$`)

// Macros lists the macros in the order of their file. What one means stands behind it, or in the comment above its paragraph.
func Macros() []Macro {
	var list []Macro
	for paragraph := range strings.SplitSeq(macrosSQL, "\n\n") {
		var comment []string
		for line := range strings.Lines(paragraph) {
			line = strings.TrimSpace(line)
			m := macroLine.FindStringSubmatch(line)
			switch {
			case strings.HasPrefix(line, "--"):
				comment = append(comment, strings.TrimSpace(line[2:]))
			case m != nil:
				list = append(list, Macro{Call: m[1] + "(" + m[2] + ")", Meaning: strings.Join(comment, " "), SQL: m[3]})
			case len(list) > 0:
				list[len(list)-1].SQL += " " + line
			}
		}
	}
	for i := range list {
		m := &list[i]
		body, behind, ok := strings.Cut(m.SQL, "; -- ")
		if m.SQL = strings.TrimSuffix(body, ";"); ok {
			m.Meaning = behind
		}
	}
	return list
}

// definition is how a macro is made.
type definition struct {
	sql   string
	needs []string // Other macros that it stands on.
}

// definitions gives every macro's by its name.
func definitions() map[string]definition {
	list := Macros()
	m := make(map[string]definition, len(list))
	for _, macro := range list {
		m[macro.name()] = definition{sql: "CREATE MACRO " + macro.Call + " AS " + macro.SQL}
	}
	for name, d := range m {
		for _, word := range strings.FieldsFunc(d.sql, notOfWords) {
			if _, ok := m[word]; ok && word != name {
				d.needs = append(d.needs, word)
			}
		}
		m[name] = d
	}
	return m
}

func (m Macro) name() string {
	name, _, _ := strings.Cut(m.Call, "(")
	return strings.ToLower(name)
}

// define makes the macros that a statement names, each when it is first named, after those that it stands on: making all of them takes as long as a short
// statement. The caller holds making.
func (s *Session) define(ctx context.Context, conn *connection, names []string) error {
	for _, name := range names {
		d, call := s.macros[name], name+"()"
		if s.made[call] {
			continue
		}
		s.made[call] = true
		err := s.define(ctx, conn, d.needs)
		if err == nil {
			err = conn.run(ctx, d.sql)
		}
		if err != nil {
			delete(s.made, call)
			return fmt.Errorf("make macro %s: %w", name, err)
		}
	}
	return nil
}
