package dialect

import (
	_ "embed"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"dynolake/queries/tokens"
)

//go:embed clickhouse.sql
var clickhouseSQL string

// macro is one that stands for an expression of the SQL that engines share.
type macro struct {
	name  string
	names []string // Of its arguments.
	body  expr
}

// spelling is one that stands for a text of ClickHouse's.
type spelling struct {
	names []string
	body  string
	gives Type
	group bool
}

// parseMacros reads CREATE MACRO name(arguments) AS expression; and so on.
func parseMacros(file string) (macros map[string]*macro, err error) {
	defer catch(file, &err)
	macros = map[string]*macro{}
	p := &parser{lexemes: lex(file)}
	for p.here().kind != end {
		p.mustKeyword("create")
		p.mustKeyword("macro")
		m := &macro{name: strings.ToLower(p.name("a macro"))}
		for _, n := range p.names() {
			m.names = append(m.names, strings.ToLower(n))
		}
		p.mustKeyword("as")
		m.body = p.expr()
		p.must(";")
		macros[m.name] = m
	}
	return macros, nil
}

var spellingForm = regexp.MustCompile(`(?s)-- gives ([A-Z \[\]]+?)( of a group)?\nCREATE FUNCTION (\w+) AS \(([^)]*)\) -> (.*?);\n`)

// spellings reads ClickHouse's own macros.
func spellings() (map[string]*spelling, error) {
	own := map[string]*spelling{}
	for _, m := range spellingForm.FindAllStringSubmatch(clickhouseSQL, -1) {
		kind, err := ParseType(m[1])
		if err != nil {
			return nil, fmt.Errorf("read what %s gives: %w", m[3], err)
		}
		own[m[3]] = &spelling{names: strings.Split(strings.ReplaceAll(m[4], " ", ""), ","), body: strings.TrimSpace(m[5]), gives: kind, group: m[2] != ""}
	}
	if len(own) != strings.Count(clickhouseSQL, "CREATE FUNCTION") {
		return nil, errors.New("a function of the file has another form")
	}
	return own, nil
}

// write puts the arguments' texts in for their names.
func (s *spelling) write(args []value) string {
	var b strings.Builder
	for _, t := range tokens.Cut(s.body) {
		if t.Kind != tokens.Code {
			b.WriteString(t.Text)
			continue
		}
		for i := 0; i < len(t.Text); {
			n := i
			for n < len(t.Text) && (letter(t.Text[n]) || digit(t.Text[n])) {
				n++
			}
			if n == i {
				b.WriteByte(t.Text[i])
				i++
				continue
			}
			b.WriteString(s.argument(t.Text[i:n], args))
			i = n
		}
	}
	return b.String()
}

func (s *spelling) argument(word string, args []value) string {
	for i, name := range s.names {
		if name == word {
			return args[i].in()
		}
	}
	return word
}

// macro writes a call of a macro.
func (w *writer) macro(m *macro, c *call, e *env) value {
	w.plainCall(c)
	arity(c, len(m.names))
	inner := &env{params: map[string]bound{}, parts: e.parts}
	for i, n := range m.names {
		inner.params[n] = bound{c.args[i], e}
	}
	v := w.value(m.body, inner)
	v.lit, v.stored = nil, false
	return v
}

func (w *writer) spelled(s *spelling, c *call, e *env) value {
	w.plainCall(c)
	arity(c, len(s.names))
	args := w.values(c.args, e)
	for i, a := range args {
		switch a.kind.Base {
		case Null:
			args[i] = value{sql: convert(a, Type{Base: map[bool]Base{true: Double, false: Text}[s.gives.Base == Double]}), simple: true}
		case Decimal:
			args[i] = value{sql: convert(a, Type{Base: Double}), simple: true}
		}
	}
	return value{sql: s.write(args), kind: s.gives, simple: true}
}

// plainCall holds that a call has nothing but arguments.
func (w *writer) plainCall(c *call) {
	if c.over != nil || c.filter != nil || c.distinct || len(c.order) > 0 || c.nulls != "" || c.star {
		fail(c.at, "%s takes arguments alone: no *, DISTINCT, ORDER BY, FILTER or OVER", c.name)
	}
}

func arity(c *call, n int) {
	if len(c.args) != n {
		fail(c.at, "%s takes %d arguments, found %d", c.name, n, len(c.args))
	}
}
