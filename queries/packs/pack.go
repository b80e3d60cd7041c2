package packs

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"dynolake/queries/engine"
	"dynolake/queries/tokens"
	"dynolake/schema"
)

// Pack is one question: a file of SQL with a header that declares it.
type Pack struct {
	Name     string // PACK/QUERY, such as drive/onset.
	Title    string
	Question string
	Params   []Param   // Its own first, then those of what it includes.
	Columns  []Column  // As declared; a user's own pack may declare none.
	Plot     string    // As declared; empty when the query has no picture.
	Pictures []Picture // The same, read.
	Apart    []string  // The columns that the answer is ordered by first, the last being vehicle, where it can be told of each vehicle apart; nil where not.
	File     string    // For messages: the path as given, or queries/packs/... for ours.
	User     bool      // From the lake's config/packs.

	pieces []piece
}

// Column is a column of a query's answer as its header declares it.
type Column struct {
	Name    string
	Unit    string // "-" where it has none (texts, truth values).
	Meaning string
}

// Units gives the declared unit of every column that has one, by name.
func (p *Pack) Units() map[string]string {
	units := make(map[string]string, len(p.Columns))
	for _, c := range p.Columns {
		if c.Unit != "-" {
			units[c.Name] = c.Unit
		}
	}
	return units
}

// Source is the query as written, with what it includes in place and its parameters still as $NAME.
func (p *Pack) Source() string {
	var b strings.Builder
	for _, s := range p.pieces {
		b.WriteString(s.text)
	}
	return b.String()
}

// SQL gives the statement to run: each $NAME is replaced by the parameter's value as a literal, so that any engine can run
// it. Parameters that are not given take their defaults. An unknown parameter or a value of another type is an error.
func (p *Pack) SQL(params map[string]string) (string, error) {
	literals := map[string]string{}
	for _, d := range p.Params {
		literals[d.Name] = d.literal
	}
	for _, name := range sortedKeys(params) {
		i := slices.IndexFunc(p.Params, func(d Param) bool { return d.Name == name })
		if i < 0 {
			return "", p.unknownParam(name)
		}
		l, err := p.Params[i].Literal(params[name])
		if err != nil {
			return "", fmt.Errorf("read parameter %s of %s: %w", name, p.Name, err)
		}
		literals[name] = l
	}
	var b strings.Builder
	for _, s := range p.pieces {
		for _, t := range s.tokens {
			if t.Kind == tokens.Variable {
				b.WriteString(literals[t.Text[1:]])
			} else {
				b.WriteString(t.Text)
			}
		}
	}
	return strings.TrimRight(strings.TrimSpace(b.String()), "; \n\t"), nil
}

func (p *Pack) unknownParam(name string) error {
	names := make([]string, len(p.Params))
	for i, d := range p.Params {
		names[i] = d.Name
	}
	if len(names) == 0 {
		return fmt.Errorf("read parameters of %s: %q is unknown: it takes none", p.Name, name)
	}
	return fmt.Errorf("read parameters of %s: %q is unknown%s: it takes %s", p.Name, name, suggest(name, names), strings.Join(names, ", "))
}

// Set is all packs, ours and the user's.
type Set struct {
	// Problems are the user's packs that were left out, each an error that begins with file:line:column.
	Problems []error

	packs   []*Pack
	userDir string
}

// All lists the packs by name, ours first.
func (s *Set) All() []*Pack { return slices.Clone(s.packs) }

// Pack finds a pack by its name, PACK/QUERY.
func (s *Set) Pack(name string) (*Pack, error) {
	full := map[string]string{} // What may have been meant: the name, or half of it.
	for _, p := range slices.Backward(s.packs) {
		if p.Name == name {
			return p, nil
		}
		folder, query, _ := strings.Cut(p.Name, "/")
		full[folder], full[query], full[p.Name] = p.Name, p.Name, p.Name
	}
	hint := ""
	if near := schema.Nearest(name, sortedKeys(full)); near != "" {
		hint = fmt.Sprintf(" (did you mean %q?)", full[near])
	}
	return nil, fmt.Errorf("find query %q: there is none of that name%s; `dynolake packs` lists them", name, hint)
}

// Fault puts the file of a user's query before what is wrong with its SQL, whose place the error begins with.
func (p *Pack) Fault(err error) error {
	fault, refused := new(engine.Fault), new(engine.Refused)
	if p.User && (errors.As(err, &fault) && fault.Line > 0 || errors.As(err, &refused) && refused.Line > 0) {
		return fmt.Errorf("%s:%w", p.File, err)
	}
	return err
}

// Has reports whether there is a PACK/QUERY, or a whole PACK, of that name.
func (s *Set) Has(name string) bool {
	return slices.ContainsFunc(s.packs, func(p *Pack) bool {
		folder, _, _ := strings.Cut(p.Name, "/")
		return name == p.Name || name == folder
	})
}

// suggest gives " (did you mean …?)" for a misspelt word, or nothing.
func suggest(word string, names []string) string {
	if n := schema.Nearest(word, names); n != "" {
		return fmt.Sprintf(" (did you mean %q?)", n)
	}
	return ""
}
