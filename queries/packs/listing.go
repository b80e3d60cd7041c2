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

// text is NULL for an empty one.
func text(s string) any {
	if s == "" {
		return nil
	}
	return s
}
