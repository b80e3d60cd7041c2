package dialect

import (
	"strings"
)

func (p *parser) exprs() []expr {
	var list []expr
	for {
		list = append(list, p.expr())
		if !p.operator(",") {
			return list
		}
	}
}

func (p *parser) expr() expr {
	p.enter()
	defer p.leave()
	left := p.and()
	for {
		at := p.here().at
		if !p.keyword("or") {
			return left
		}
		left = &binary{"OR", left, p.and(), at}
	}
}

func (p *parser) and() expr {
	left := p.not()
	for {
		at := p.here().at
		if !p.keyword("and") {
			return left
		}
		left = &binary{"AND", left, p.not(), at}
	}
}

func (p *parser) not() expr {
	p.enter()
	defer p.leave()
	at := p.here().at
	if p.keyword("not") {
		return &unary{"NOT", p.not(), at}
	}
	return p.is()
}

// is reads IS NULL, IS DISTINCT FROM, IS TRUE behind a comparison.
func (p *parser) is() expr {
	left := p.comparison()
	for {
		at := p.here().at
		switch {
		case p.keyword("isnull"):
			left = &null{left, false}
		case p.keyword("notnull"):
			left = &null{left, true}
		case p.keyword("is"):
			not := p.keyword("not")
			switch {
			case p.keyword("null"):
				left = &null{left, not}
			case p.keyword("distinct", "from"):
				left = &binary{map[bool]string{true: "IS NOT DISTINCT FROM", false: "IS DISTINCT FROM"}[not], left, p.comparison(), at}
			case p.looking("true"), p.looking("false"):
				value := &literal{Boolean, p.here().text, at}
				p.i++
				left = &binary{map[bool]string{true: "IS DISTINCT FROM", false: "IS NOT DISTINCT FROM"}[not], left, value, at}
			default:
				fail(p.here().at, "found %q, want NULL, TRUE, FALSE or DISTINCT FROM", p.here().raw)
			}
		default:
			return left
		}
	}
}

func (p *parser) comparison() expr {
	left := p.ranged(p.other())
	for {
		l := p.here()
		if l.kind != operator {
			return left
		}
		sign := l.text
		switch sign {
		case "==":
			sign = "="
		case "!=":
			sign = "<>"
		case "=", "<>", "<", "<=", ">", ">=":
		default:
			return left
		}
		p.i++
		left = &binary{sign, left, p.ranged(p.other()), l.at}
	}
}

// ranged reads BETWEEN, IN and LIKE behind a value.
func (p *parser) ranged(left expr) expr {
	at := p.here().at
	start := p.i
	not := p.keyword("not")
	switch {
	case p.keyword("between"):
		low := p.other()
		p.mustKeyword("and")
		return p.ranged(&between{left, low, p.other(), not, at})
	case p.keyword("in"):
		p.must("(")
		n := &in{value: left, not: not, at: at}
		if p.looking("select") || p.looking("with") || p.looking("from") {
			n.query = p.query()
		} else {
			n.list = p.exprs()
		}
		p.must(")")
		return n
	case p.looking("like"), p.looking("ilike"):
		name := strings.ToUpper(p.here().text)
		p.i++
		like := expr(&binary{name, left, p.other(), at})
		if p.looking("escape") {
			fail(at, "%s … ESCAPE is not translated", name)
		}
		if not {
			like = &unary{"NOT", like, at}
		}
		return like
	case p.looking("glob"), p.looking("similar"):
		fail(at, "%s is not translated", strings.ToUpper(p.here().text))
	}
	p.i = start
	return left
}

// other reads ||, which binds weaker than + and -.
func (p *parser) other() expr {
	left := p.sum()
	for {
		l := p.here()
		if !p.operator("||") {
			return left
		}
		left = &binary{"||", left, p.sum(), l.at}
	}
}

func (p *parser) sum() expr {
	left := p.product()
	for {
		l := p.here()
		if !p.operator("+") && !p.operator("-") {
			return left
		}
		left = &binary{l.text, left, p.product(), l.at}
	}
}

func (p *parser) product() expr {
	left := p.power()
	for {
		l := p.here()
		if !p.operator("*") && !p.operator("/") && !p.operator("//") && !p.operator("%") {
			return left
		}
		left = &binary{l.text, left, p.power(), l.at}
	}
}

func (p *parser) power() expr {
	left := p.signed()
	for {
		l := p.here()
		if !p.operator("^") && !p.operator("**") {
			return left
		}
		left = &call{name: "pow", args: []expr{left, p.signed()}, at: l.at}
	}
}

func (p *parser) signed() expr {
	p.enter()
	defer p.leave()
	l := p.here()
	if p.operator("-") || p.operator("+") {
		return &unary{l.text, p.signed(), l.at}
	}
	return p.postfix()
}

// postfix reads ::TYPE and [index] behind a value.
func (p *parser) postfix() expr {
	v := p.primary()
	for {
		at := p.here().at
		switch {
		case p.operator("::"):
			v = &cast{value: v, to: p.typeName(), at: at}
		case p.operator("["):
			i := p.expr()
			if p.operator(":") {
				fail(at, "slices [from:to] are not translated")
			}
			p.must("]")
			v = &element{v, i, at}
		case p.here().kind == operator && (p.here().text == "." || p.here().text == "->" || p.here().text == "->>"):
			fail(at, "%q behind a value is not translated", p.here().text)
		default:
			return v
		}
	}
}
