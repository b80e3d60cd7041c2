package engine

import (
	"context"
	_ "embed"
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

// macros makes the macros and tells their names.
func (c *connection) macros(ctx context.Context) (map[string]bool, error) {
	names := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?im)^CREATE MACRO (\w+)`).FindAllStringSubmatch(macrosSQL, -1) {
		names[strings.ToLower(m[1])] = true
	}
	return names, c.run(ctx, macrosSQL)
}
