package dialect

import (
	"strings"
)

func (w *writer) unary(x *unary, e *env) value {
	v := w.value(x.value, e)
	if x.operator == "NOT" {
		if v.kind.Base != Boolean && v.kind.Base != Null {
			fail(x.at, "NOT of %s", v.kind)
		}
		return value{sql: "NOT (" + v.sql + ")", kind: Type{Base: Boolean}, flag: true}
	}
	if !v.kind.Number() && v.kind.Base != Null {
		fail(x.at, "%s of %s", x.operator, v.kind)
	}
	if x.operator == "+" {
		return v
	}
	if l := v.lit; l != nil && l.kind != Null && !strings.HasPrefix(l.text, "-") {
		return writeLiteral(&literal{l.kind, "-" + l.text, l.at})
	}
	return value{sql: "-" + v.in(), kind: v.kind}
}

func (w *writer) binary(x *binary, e *env) value {
	if v, ok := w.shifted(x, e); ok {
		return v
	}
	l, r := w.value(x.left, e), w.value(x.right, e)
	truth := Type{Base: Boolean}
	switch x.operator {
	case "AND", "OR":
		for _, v := range []value{l, r} {
			if v.kind.Base != Boolean && v.kind.Base != Null {
				fail(x.at, "%s of %s", x.operator, v.kind)
			}
		}
		return value{sql: logical(l, x.operator) + " " + x.operator + " " + logical(r, x.operator), kind: truth, flag: true}
	case "=", "<>", "<", "<=", ">", ">=":
		return value{sql: compare(x.operator, l, r, widestOf(x.at, []value{l, r})), kind: truth, flag: true}
	case "IS DISTINCT FROM", "IS NOT DISTINCT FROM":
		return value{sql: compare(x.operator, l, r, widestOf(x.at, []value{l, r})), kind: truth, flag: true}
	case "||":
		if l.kind.Base == List || r.kind.Base == List {
			fail(x.at, "|| of lists is not translated")
		}
		return value{sql: "concat(" + textOf(l, x.at) + ", " + textOf(r, x.at) + ")", kind: Type{Base: Text}, simple: true}
	case "LIKE", "ILIKE":
		return value{sql: l.in() + " " + x.operator + " " + likePattern(l, r, x.at), kind: truth, flag: true}
	}
	return arithmetic(x.operator, l, r, x.at)
}

// logical puts parentheses about OR within AND.
func logical(v value, operator string) string {
	if operator == "AND" {
		return v.in()
	}
	return "(" + v.sql + ")"
}

// likePattern escapes the backslash, which escapes in ClickHouse and does not in DuckDB.
func likePattern(l, r value, at int) string {
	if l.kind.Base != Text || r.kind.Base != Text {
		fail(at, "LIKE of %s and %s, want texts", l.kind, r.kind)
	}
	if r.lit != nil {
		return quoteText(strings.ReplaceAll(r.lit.text, `\`, `\\`))
	}
	return `replaceAll(` + r.sql + `, '\\', '\\\\')`
}

// compare writes a comparison of two values of the wider type.
func compare(operator string, l, r value, kind Type) string {
	if kind.Base == List {
		fail(-1, "comparisons of lists are not translated")
	}
	a, b := value{sql: convert(l, kind), stored: l.stored && l.kind == kind}, value{sql: convert(r, kind), stored: r.stored && r.kind == kind}
	if l.lit != nil || strings.HasSuffix(a.sql, ")") && !strings.HasPrefix(a.sql, "(") && plainCall(a.sql) {
		a.simple = true
	}
	if r.lit != nil || plainCall(b.sql) {
		b.simple = true
	}
	return a.in() + " " + operator + " " + b.in()
}

// plainCall reports whether a text is one call: name(…) with nothing behind it.
func plainCall(s string) bool {
	open := strings.IndexByte(s, '(')
	if open < 1 {
		return false
	}
	for i := range open {
		if !letter(s[i]) && !digit(s[i]) {
			return false
		}
	}
	return closing(s, open) == len(s)-1
}

// closing is where the parenthesis closes that opens at open; -1 where none does. Quoted text is passed over.
func closing(s string, open int) int {
	depth, quoted := 0, byte(0)
	for i := open; i < len(s); i++ {
		c := s[i]
		switch {
		case quoted != 0 && c == '\\':
			i++
		case quoted == c:
			quoted = 0
		case quoted != 0:
		case c == '\'' || c == '`':
			quoted = c
		case c == '(':
			depth++
		case c == ')':
			if depth--; depth == 0 {
				return i
			}
		}
	}
	return -1
}

// arithmetic writes + - * / // % as DuckDB counts: single precision stays single, whole numbers divide to fractions, and nothing divided by 0 is NULL.
func arithmetic(operator string, l, r value, at int) value {
	if l.kind.time() || r.kind.time() {
		return days(operator, l, r, at)
	}
	for _, v := range []value{l, r} {
		if !v.kind.Number() && v.kind.Base != Null {
			fail(at, "%s of %s and %s, want numbers", operator, l.kind, r.kind)
		}
	}
	kind, _ := widest(l.kind, r.kind)
	switch operator {
	case "/":
		if kind.Base != Float {
			kind = Type{Base: Double}
		}
		return rounded(operand(l, kind)+" / "+divisor(r, kind), kind)
	case "//", "%":
		if !kind.whole() {
			fail(at, "%s of %s and %s is not translated", operator, l.kind, r.kind)
		}
		if operator == "//" {
			return value{sql: "intDiv(" + convert(l, kind) + ", " + divisor(r, kind) + ")", kind: kind, simple: true}
		}
		return value{sql: operand(l, kind) + " % " + divisor(r, kind), kind: kind}
	case "*":
		if kind.Base == Decimal {
			kind.Scale = l.kind.Scale + r.kind.Scale
			if kind.Scale > 38 {
				fail(at, "a product of decimals has %d decimals, more than the 38 that there can be: cast to DOUBLE", kind.Scale)
			}
			return value{sql: decimal(l) + " * " + decimal(r), kind: kind}
		}
	}
	if kind.whole() && kind.Base != HugeInt {
		return value{sql: l.in() + " " + operator + " " + r.in(), kind: kind} // Of any width: the result is wider still.
	}
	return rounded(operand(l, kind)+" "+operator+" "+operand(r, kind), kind)
}

// rounded keeps a result in single precision where DuckDB does.
func rounded(text string, kind Type) value {
	if kind.Base == Float {
		return value{sql: "toFloat32(" + text + ")", kind: kind, simple: true}
	}
	return value{sql: text, kind: kind}
}

func decimal(v value) string {
	return operand(v, Type{Base: Decimal, Scale: v.kind.Scale})
}

func operand(v value, kind Type) string {
	text := convert(v, kind)
	if v.lit != nil || v.stored && v.kind == kind || plainCall(text) {
		return text
	}
	return "(" + text + ")"
}

// divisor is NULL where it is 0.
func divisor(v value, kind Type) string {
	if v.lit != nil && v.lit.kind != Null && strings.Trim(v.lit.text, "0.e+-") != "" {
		return convert(v, kind)
	}
	return "nullIf(" + convert(v, kind) + ", 0)"
}

// days writes differences of days, and days with a number added.
func days(operator string, l, r value, at int) value {
	day := Type{Base: Date}
	switch {
	case operator == "-" && l.kind == day && r.kind == day:
		return value{sql: "toInt64(dateDiff('day', " + r.sql + ", " + l.sql + "))", kind: Type{Base: BigInt}, simple: true}
	case operator == "+" && l.kind == day && r.kind.whole():
		return value{sql: "addDays(" + l.sql + ", " + r.sql + ")", kind: day, simple: true}
	case operator == "-" && l.kind == day && r.kind.whole():
		return value{sql: "subtractDays(" + l.sql + ", " + r.sql + ")", kind: day, simple: true}
	}
	fail(at, "%s of %s and %s is not translated", operator, l.kind, r.kind)
	return value{}
}
