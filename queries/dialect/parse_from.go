package dialect

import (
	"strings"
)

// sources reads what follows FROM: tables, queries, joins; a comma joins every row with every row.
func (p *parser) sources() source {
	s := p.joins()
	for {
		at := p.here().at
		if !p.operator(",") {
			return s
		}
		s = &join{kind: "CROSS", left: s, right: p.joins(), at: at}
	}
}

func (p *parser) joins() source {
	p.enter()
	defer p.leave()
	s := p.source()
	for {
		at := p.here().at
		kind := p.joinKind()
		if kind == "" {
			return s
		}
		j := &join{kind: kind, left: s, right: p.source(), at: at}
		switch {
		case kind == "CROSS":
		case p.keyword("on"):
			j.on = p.expr()
		case p.keyword("using"):
			j.using = p.names()
		default:
			fail(p.here().at, "found %q, want ON or USING", p.here().raw)
		}
		s = j
	}
}

func (p *parser) joinKind() string {
	for _, w := range []string{"natural", "asof", "positional", "semi", "anti", "lateral"} {
		if p.looking(w) {
			fail(p.here().at, "%s joins are not translated", strings.ToUpper(w))
		}
	}
	switch {
	case p.keyword("cross"):
		p.mustKeyword("join")
		return "CROSS"
	case p.keyword("join"):
		return "INNER"
	case p.keyword("inner"):
		p.mustKeyword("join")
		return "INNER"
	}
	for _, w := range []string{"left", "right", "full"} {
		if p.keyword(w) {
			p.keyword("outer")
			p.mustKeyword("join")
			return strings.ToUpper(w)
		}
	}
	return ""
}

func (p *parser) source() source {
	at := p.here().at
	if p.operator("(") {
		if p.looking("select") || p.looking("with") || p.looking("from") || p.here().text == "(" && p.here().kind == operator {
			d := &derived{query: p.query(), at: at}
			p.must(")")
			d.alias = p.alias()
			d.names = p.names()
			return d
		}
		if p.looking("values") {
			return p.values(at)
		}
		s := p.sources()
		p.must(")")
		return s
	}
	if p.looking("values") {
		fail(at, "VALUES without parentheses is not translated")
	}
	t := &table{at: at, name: p.name("a table or view")}
	switch {
	case p.operator("."):
		fail(at, "names of schemas are not translated: name the view alone")
	case p.operator("("):
		fail(at, "table function %s is not translated", t.name)
	}
	p.read[strings.ToLower(t.name)]++
	t.alias = p.alias()
	t.names = p.names()
	return t
}

// values reads (VALUES (…), (…)) as a UNION ALL of SELECTs.
func (p *parser) values(at int) source {
	p.mustKeyword("values")
	var q *query
	for {
		row := &selection{at: p.here().at}
		p.must("(")
		for i, v := range p.exprs() {
			row.items = append(row.items, item{v, "col" + itoa(i), true})
		}
		p.must(")")
		if q == nil {
			q = &query{first: row, at: at}
		} else {
			q.rest = append(q.rest, joined{"UNION ALL", row, row.at})
		}
		if !p.operator(",") {
			break
		}
	}
	p.must(")")
	d := &derived{query: q, alias: p.alias(), at: at}
	d.names = p.names()
	return d
}

func (p *parser) sortings() []sorting {
	var terms []sorting
	for {
		var t sorting
		if !p.keyword("all") { // Every column of the answer.
			t.value = p.expr()
		}
		if p.keyword("desc") {
			t.desc = true
		} else {
			p.keyword("asc")
		}
		if p.keyword("nulls") {
			switch {
			case p.keyword("first"):
				t.nulls = "FIRST"
			case p.keyword("last"):
				t.nulls = "LAST"
			default:
				fail(p.here().at, "found %q, want FIRST or LAST", p.here().raw)
			}
		}
		terms = append(terms, t)
		if !p.operator(",") {
			return terms
		}
	}
}

// window reads (PARTITION BY … ORDER BY … ROWS …).
func (p *parser) window() *window {
	p.must("(")
	w := &window{}
	if l := p.here(); l.kind == word && !reserved(l.text) && l.text != "partition" && l.text != "rows" && l.text != "range" && l.text != "groups" {
		w.base = l.text
		p.i++
	}
	if p.keyword("partition", "by") {
		w.partition = p.exprs()
	}
	if p.keyword("order", "by") {
		w.order = p.sortings()
	}
	if !p.operator(")") {
		w.frame = p.frame()
		p.must(")")
	}
	return w
}

// frame reads ROWS or RANGE with its bounds.
func (p *parser) frame() string {
	kind := p.here()
	if !p.keyword("rows") && !p.keyword("range") {
		fail(kind.at, "found %q in a window, want ROWS or RANGE", kind.raw)
	}
	parts := []string{strings.ToUpper(kind.text)}
	if p.keyword("between") {
		parts = append(parts, "BETWEEN", p.bound(kind.text))
		p.mustKeyword("and")
		parts = append(parts, "AND")
	}
	parts = append(parts, p.bound(kind.text))
	if l := p.here(); l.kind == word {
		fail(l.at, "%s in a window is not translated", strings.ToUpper(l.text))
	}
	return strings.Join(parts, " ")
}

func (p *parser) bound(kind string) string {
	l := p.here()
	p.i++
	switch {
	case l.kind == word && l.text == "current":
		p.mustKeyword("row")
		return "CURRENT ROW"
	case l.kind == word && l.text == "unbounded":
	case l.kind == number && kind == "rows" && !strings.ContainsAny(l.text, ".eE_"):
	default:
		fail(l.at, "found %q, want UNBOUNDED, CURRENT ROW or, of ROWS, a whole number", l.raw)
	}
	way := p.here()
	if !p.keyword("preceding") && !p.keyword("following") {
		fail(way.at, "found %q, want PRECEDING or FOLLOWING", way.raw)
	}
	return strings.ToUpper(l.text + " " + way.text)
}
