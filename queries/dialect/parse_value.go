package dialect

import (
	"strings"
)

func (p *parser) primary() expr {
	l := p.here()
	switch l.kind {
	case number:
		p.i++
		return numberLiteral(l)
	case text:
		p.i++
		return &literal{Text, l.text, l.at}
	case parameter:
		p.i++
		return &column{"", "$" + l.text, l.at}
	case quotedName:
		return p.nameOrCall()
	case word:
		return p.wordValue()
	}
	switch {
	case p.operator("("):
		return p.parenthesis(l.at)
	case p.operator("["):
		v := &list{at: l.at}
		if !p.operator("]") {
			v.items = p.exprs()
			p.must("]")
		}
		return v
	case p.operator("*"):
		return p.star("", l.at)
	}
	fail(l.at, "found %q, want a value", l.raw)
	return nil
}

func numberLiteral(l lexeme) expr {
	digits := strings.ReplaceAll(l.text, "_", "")
	switch {
	case strings.ContainsAny(digits, "eE"), strings.Contains(digits, ".") && len(digits) > 38: // Too long for a decimal.
		return &literal{Double, digits, l.at}
	case strings.Contains(digits, "."):
		return &literal{Decimal, digits, l.at}
	}
	return &literal{Integer, digits, l.at}
}

func (p *parser) parenthesis(at int) expr {
	if p.looking("select") || p.looking("with") || p.looking("from") {
		q := p.query()
		p.must(")")
		return &scalar{query: q, at: at}
	}
	v := p.expr()
	if p.operator(",") {
		fail(at, "rows (a, b) are not translated")
	}
	p.must(")")
	return v
}

func (p *parser) wordValue() expr {
	l := p.here()
	switch l.text {
	case "null", "true", "false":
		p.i++
		return &literal{map[string]Base{"null": Null, "true": Boolean, "false": Boolean}[l.text], l.text, l.at}
	case "case":
		return p.choice()
	case "cast", "try_cast":
		if p.called() {
			return p.castCall()
		}
	case "exists":
		p.i++
		p.must("(")
		q := p.query()
		p.must(")")
		return &scalar{q, true, l.at}
	case "lambda":
		p.i++
		return p.lambda(l.at)
	case "interval":
		p.i++
		return p.interval(l.at)
	case "extract":
		if p.called() {
			return p.extract(l.at)
		}
	case "position", "columns", "array":
		if next := p.ahead(1); p.called() || next.kind == operator && next.text == "[" {
			fail(l.at, "%s is not translated", strings.ToUpper(l.text))
		}
	case "date", "timestamp", "timestamptz":
		if p.ahead(1).kind == text {
			return p.typedText()
		}
	}
	if function := p.called() && (l.text == "left" || l.text == "right"); reserved(l.text) && !function {
		fail(l.at, "found %q, want a value", l.raw)
	}
	return p.nameOrCall()
}

// called reports whether an opening parenthesis follows.
func (p *parser) called() bool {
	l := p.ahead(1)
	return l.kind == operator && l.text == "("
}

// typedText reads DATE '2026-03-31'.
func (p *parser) typedText() expr {
	at := p.here().at
	to := p.typeName()
	value := p.here()
	p.i++
	return &cast{&literal{Text, value.text, value.at}, to, false, at}
}

func (p *parser) castCall() expr {
	c := &cast{try: p.here().text == "try_cast", at: p.here().at}
	p.i += 2
	c.value = p.expr()
	p.mustKeyword("as")
	c.to = p.typeName()
	p.must(")")
	return c
}

func (p *parser) lambda(at int) expr {
	var names []string
	for {
		names = append(names, p.name("a lambda's argument"))
		if !p.operator(",") {
			break
		}
	}
	p.must(":")
	return &lambda{names, p.expr(), at}
}

func (p *parser) choice() expr {
	c := &choice{at: p.here().at}
	p.i++
	if !p.looking("when") {
		c.operand = p.expr()
	}
	for p.keyword("when") {
		when := p.expr()
		p.mustKeyword("then")
		c.when = append(c.when, [2]expr{when, p.expr()})
	}
	if p.keyword("else") {
		c.otherwise = p.expr()
	}
	p.mustKeyword("end")
	return c
}

// nameOrCall reads column, table.column, table.* and function(…).
func (p *parser) nameOrCall() expr {
	l := p.here()
	p.i++
	switch {
	case p.operator("("):
		return p.call(l)
	case p.operator("."):
		next := p.here()
		p.i++
		switch {
		case next.kind == operator && next.text == "*":
			return p.star(l.nameText(), l.at)
		case next.kind != word && next.kind != quotedName:
			fail(next.at, "found %q, want the name of a column", next.raw)
		}
		return &column{l.nameText(), next.nameText(), l.at}
	}
	if l.kind == word && (l.text == "current_date" || l.text == "current_timestamp") {
		return &call{name: l.text, at: l.at}
	}
	return &column{"", l.nameText(), l.at}
}

func (p *parser) star(of string, at int) expr {
	s := &star{table: of, at: at}
	if p.keyword("exclude") {
		if s.exclude = p.names(); s.exclude == nil {
			s.exclude = []string{p.name("a column")}
		}
	}
	if p.looking("replace") || p.looking("rename") || p.looking("like") {
		fail(at, "* %s is not translated", strings.ToUpper(p.here().text))
	}
	return s
}

func (p *parser) call(l lexeme) expr {
	c := &call{name: strings.ToLower(l.nameText()), at: l.at}
	switch {
	case p.operator("*"):
		c.star = true
		p.must(")")
	case p.operator(")"):
	default:
		if p.keyword("distinct") {
			c.distinct = true
		}
		c.args = p.exprs()
		if p.keyword("order", "by") {
			c.order = p.sortings()
		}
		c.nulls = p.nullTreatment()
		p.must(")")
	}
	if c.nulls == "" {
		c.nulls = p.nullTreatment()
	}
	if p.looking("within") {
		fail(p.here().at, "WITHIN GROUP is not translated")
	}
	if p.keyword("filter") {
		p.must("(")
		p.keyword("where")
		c.filter = p.expr()
		p.must(")")
	}
	if p.keyword("over") {
		if p.here().kind == operator {
			c.over = p.window()
		} else {
			c.over = &window{base: strings.ToLower(p.name("a window"))}
		}
	}
	return c
}

func (p *parser) nullTreatment() string {
	for _, w := range []string{"ignore", "respect"} {
		if p.keyword(w, "nulls") {
			return strings.ToUpper(w) + " NULLS"
		}
	}
	return ""
}

// typeName reads the name of a type.
func (p *parser) typeName() Type {
	l := p.here()
	name := strings.ToLower(p.name("a type"))
	switch name {
	case "double":
		p.keyword("precision")
	case "timestamp":
		if p.keyword("with", "time", "zone") {
			name = "timestamptz"
		} else {
			p.keyword("without", "time", "zone")
		}
	case "decimal", "numeric":
		return p.decimalType()
	}
	base, ok := baseNames()[name]
	if !ok {
		fail(l.at, "type %s is not translated", l.raw)
	}
	t := Type{Base: base}
	if p.operator("(") { // The length of a text, which DuckDB does not keep to.
		p.i++
		p.must(")")
	}
	if p.operator("[") {
		p.must("]")
		t = Type{Base: List, Of: base}
	}
	return t
}

// decimalType reads (width, scale) behind DECIMAL; without them DuckDB takes 3 decimals.
func (p *parser) decimalType() Type {
	scale := 3
	if p.operator("(") {
		p.i++ // The width: all are kept as wide as can be.
		scale = 0
		if p.operator(",") {
			scale = atoi(p.here())
			p.i++
		}
		p.must(")")
	}
	return Type{Base: Decimal, Scale: scale}
}
