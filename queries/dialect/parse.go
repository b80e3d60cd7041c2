package dialect

import (
	"slices"
	"strings"
)

// parser reads lexemes into a tree. What it does not know it refuses by fail.
type parser struct {
	lexemes []lexeme
	i       int
	depth   int
	read    map[string]int // How often FROM names each table, in lower case.
}

// deepest is how deep a statement may nest.
const deepest = 500

// parse reads a statement, and counts how often it reads each table.
func parse(statement string) (*query, map[string]int) {
	p := &parser{lexemes: lex(statement), read: map[string]int{}}
	q := p.query()
	for p.operator(";") {
	}
	p.mustEnd()
	return q, p.read
}

func (p *parser) here() lexeme { return p.ahead(0) }

func (p *parser) ahead(n int) lexeme { return p.lexemes[min(p.i+n, len(p.lexemes)-1)] }

func (p *parser) mustEnd() {
	if l := p.here(); l.kind != end {
		fail(l.at, "found %q, which is not understood there", l.raw)
	}
}

// keyword takes the words if all of them stand here.
func (p *parser) keyword(words ...string) bool {
	if !p.looking(words...) {
		return false
	}
	p.i += len(words)
	return true
}

func (p *parser) looking(words ...string) bool {
	for i, w := range words {
		if l := p.ahead(i); l.kind != word || l.text != w {
			return false
		}
	}
	return true
}

func (p *parser) operator(sign string) bool {
	if l := p.here(); l.kind != operator || l.text != sign {
		return false
	}
	p.i++
	return true
}

func (p *parser) must(sign string) {
	if !p.operator(sign) {
		fail(p.here().at, "found %q, want %q", p.here().raw, sign)
	}
}

func (p *parser) mustKeyword(words ...string) {
	if !p.keyword(words...) {
		fail(p.here().at, "found %q, want %s", p.here().raw, strings.ToUpper(strings.Join(words, " ")))
	}
}

// reserved words cannot be a name or an alias without quotes.
func reserved(w string) bool {
	return slices.Contains([]string{"select", "from", "where", "group", "having", "window", "qualify", "order", "limit", "offset", "union", "except", "intersect", "on", "using", "join", "inner", "left",
		"right", "full", "cross", "natural", "asof", "positional", "semi", "anti", "lateral", "as", "case", "when", "then", "else", "end", "and", "or", "not", "is", "in", "between", "like", "ilike", "glob", "similar",
		"distinct", "all", "with", "null", "true", "false", "cast", "over", "filter", "asc", "desc", "nulls", "collate", "exists", "pivot", "unpivot", "tablesample", "interval", "lambda", "fetch", "for"}, w)
}

// name reads a name, quoted or not.
func (p *parser) name(of string) string {
	l := p.here()
	if l.kind == quotedName || l.kind == word && !reserved(l.text) {
		p.i++
		return l.nameText()
	}
	fail(l.at, "found %q, want the name of %s", l.raw, of)
	return ""
}

func (l lexeme) nameText() string {
	if l.kind == quotedName {
		return l.text
	}
	return l.raw
}

// alias reads `AS name` or a bare name, if there is one.
func (p *parser) alias() string {
	if p.keyword("as") {
		l := p.here()
		if l.kind == word || l.kind == quotedName || l.kind == text { // Behind AS any word is a name.
			p.i++
			if l.kind == word {
				return l.raw
			}
			return l.text
		}
		return p.name("a column or table")
	}
	if l := p.here(); l.kind == quotedName || l.kind == word && !reserved(l.text) {
		p.i++
		return l.nameText()
	}
	return ""
}

func (p *parser) names() []string {
	if !p.operator("(") {
		return nil
	}
	var names []string
	for {
		names = append(names, p.name("a column"))
		if !p.operator(",") {
			p.must(")")
			return names
		}
	}
}

func (p *parser) enter() {
	if p.depth++; p.depth > deepest {
		fail(p.here().at, "the statement nests too deep to be translated")
	}
}

func (p *parser) leave() { p.depth-- }

func (p *parser) query() *query {
	p.enter()
	defer p.leave()
	q := &query{at: p.here().at}
	if p.keyword("with") {
		if p.looking("recursive") {
			fail(p.here().at, "WITH RECURSIVE is not translated")
		}
		for {
			q.with = append(q.with, p.common())
			if !p.operator(",") || p.looking("select") {
				break
			}
		}
	}
	q.first = p.selection()
	for {
		l := p.here()
		if l.kind != word || !slices.Contains([]string{"union", "except", "intersect"}, l.text) {
			break
		}
		p.i++
		name := strings.ToUpper(l.text)
		if p.keyword("all") {
			name += " ALL"
		} else {
			p.keyword("distinct")
		}
		if p.looking("by", "name") {
			fail(l.at, "UNION BY NAME is not translated: name the columns in one order")
		}
		q.rest = append(q.rest, joined{name, p.selection(), l.at})
	}
	if p.keyword("order", "by") {
		q.order = p.sortings()
	}
	for p.looking("limit") || p.looking("offset") {
		part := &q.limit
		if p.looking("offset") {
			part = &q.offset
		}
		p.i++
		*part = p.expr()
	}
	return q
}

func (p *parser) common() common {
	c := common{at: p.here().at, name: p.name("a WITH part")}
	c.names = p.names()
	p.mustKeyword("as")
	p.keyword("not")
	p.keyword("materialized")
	p.must("(")
	c.query = p.query()
	p.must(")")
	return c
}

func (p *parser) selection() *selection {
	s := &selection{at: p.here().at}
	if p.operator("(") {
		s.nested = p.query()
		p.must(")")
		return s
	}
	if p.keyword("from") { // FROM first, as DuckDB has it.
		s.from = p.sources()
		if !p.keyword("select") {
			s.items = []item{{value: &star{at: s.at}}}
			p.tail(s)
			return s
		}
	} else if !p.keyword("select") {
		if first := p.here(); p.i == 0 && first.kind == word {
			fail(first.at, "%s is not translated: one SELECT is", strings.ToUpper(first.text))
		}
		fail(p.here().at, "found %q, want SELECT", p.here().raw)
	}
	if p.keyword("distinct") {
		if p.keyword("on") {
			p.must("(")
			s.on = p.exprs()
			p.must(")")
		} else {
			s.distinct = true
		}
	} else {
		p.keyword("all")
	}
	for {
		s.items = append(s.items, p.item())
		if !p.operator(",") || p.looking("from") {
			break
		}
	}
	if p.keyword("from") {
		if s.from != nil {
			fail(p.here().at, "there are two FROM")
		}
		s.from = p.sources()
	}
	p.tail(s)
	return s
}

// tail reads what follows FROM.
func (p *parser) tail(s *selection) {
	if p.keyword("where") {
		s.where = p.expr()
	}
	if p.keyword("group", "by") {
		if p.keyword("all") {
			s.groupAll = true
		} else {
			s.group = p.exprs()
		}
	}
	if p.keyword("having") {
		s.having = p.expr()
	}
	if p.keyword("window") {
		s.windows = map[string]*window{}
		for {
			name := strings.ToLower(p.name("a window"))
			p.mustKeyword("as")
			s.windows[name] = p.window()
			if !p.operator(",") {
				break
			}
		}
	}
	if p.keyword("qualify") {
		s.qualify = p.expr()
	}
}

func (p *parser) item() item {
	at := p.here()
	v := p.expr()
	if _, ok := v.(*star); ok {
		return item{value: v}
	}
	name := p.alias()
	named := name != ""
	if !named {
		if c, ok := v.(*column); ok {
			name = c.name
		} else {
			name = p.written(at)
		}
	}
	return item{v, name, named}
}

// written is how an expression without a name is called: as it is written.
func (p *parser) written(from lexeme) string {
	var b strings.Builder
	for i := range p.lexemes[:p.i] {
		if l := p.lexemes[i]; l.at >= from.at {
			b.WriteString(l.raw)
		}
	}
	return b.String()
}
