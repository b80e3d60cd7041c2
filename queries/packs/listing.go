package packs

import (
	"strings"

	"dynolake/queries/result"
)

// Listing is a row a pack: its name, title, question, whose it is and what parameters it takes.
func (s *Set) Listing() *result.Rows {
	columns := []result.Column{{Name: "query"}, {Name: "title"}, {Name: "question"}, {Name: "origin"}, {Name: "parameters"}}
	rows := make([][]any, len(s.packs))
	for i, p := range s.packs {
		origin, names := "ours", make([]string, len(p.Params))
		if p.User {
			origin = "user"
		}
		for j, d := range p.Params {
			names[j] = d.Name
		}
		rows[i] = []any{p.Name, p.Title, text(p.Question), origin, text(strings.Join(names, " "))}
	}
	return result.Of(columns, rows)
}

// ColumnRows is a row a declared column.
func (p *Pack) ColumnRows() *result.Rows {
	columns := []result.Column{{Name: "column"}, {Name: "unit"}, {Name: "meaning"}}
	rows := make([][]any, len(p.Columns))
	for i, c := range p.Columns {
		rows[i] = []any{c.Name, unit(c.Unit), text(c.Meaning)}
	}
	return result.Of(columns, rows)
}

// ParamRows is a row a parameter.
func (p *Pack) ParamRows() *result.Rows {
	columns := []result.Column{{Name: "parameter"}, {Name: "type"}, {Name: "default"}, {Name: "unit"}, {Name: "meaning"}}
	rows := make([][]any, len(p.Params))
	for i, d := range p.Params {
		rows[i] = []any{d.Name, d.Type, d.Default, unit(d.Unit), text(d.Meaning)}
	}
	return result.Of(columns, rows)
}

func unit(u string) any {
	if u == "-" {
		return nil
	}
	return text(u)
}

// text is NULL for an empty one.
func text(s string) any {
	if s == "" {
		return nil
	}
	return s
}
