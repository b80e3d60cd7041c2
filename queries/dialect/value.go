package dialect

import (
	"strings"
)

// value is an expression as ClickHouse reads it.
type value struct {
	sql    string
	kind   Type
	lit    *literal // Where it is one.
	flag   bool     // A truth value that ClickHouse holds as a number of 8 bits.
	stored bool     // A column that can hold NULL by its type.
	absent bool     // A list that is empty where it is NULL.
	simple bool     // Needs no parentheses within a larger expression.
}

// in puts parentheses about what may fall apart in a larger expression.
func (v value) in() string {
	if v.stored || v.simple || v.lit != nil {
		return v.sql
	}
	return "(" + v.sql + ")"
}

const (
	longest = 4 << 20 // Bytes that an expression may be written in: macros within macros grow.
	highest = 10000   // How deep expressions may nest, macros and aliases written out.
)

// value writes an expression.
func (w *writer) value(x expr, e *env) value {
	if w.depth++; w.depth > highest {
		fail(-1, "the statement nests too deep to be translated")
	}
	v := w.expression(x, e)
	w.depth--
	if len(v.sql) > longest {
		fail(-1, "the statement grows beyond %d MiB by its macros", longest>>20)
	}
	return v
}

func (w *writer) expression(x expr, e *env) value {
	switch x := x.(type) {
	case *written:
		return x.value
	case *literal:
		return writeLiteral(x)
	case *column:
		return w.column(x, e)
	case *unary:
		return w.unary(x, e)
	case *binary:
		return w.binary(x, e)
	case *null:
		v := w.value(x.value, e)
		if v.kind.Base == List {
			fail(-1, "IS NULL of a list is not translated")
		}
		return value{sql: v.in() + map[bool]string{false: " IS NULL", true: " IS NOT NULL"}[x.not], kind: Type{Base: Boolean}, flag: true}
	case *between:
		return w.between(x, e)
	case *in:
		return w.membership(x, e)
	case *choice:
		return w.choice(x, e)
	case *cast:
		return w.cast(x, e)
	case *call:
		return w.call(x, e)
	case *list:
		return w.list(x, e)
	case *element:
		return w.element(x, e)
	case *scalar:
		return w.scalar(x, e)
	case *star:
		fail(x.at, "* stands alone in a SELECT")
	case *interval:
		fail(x.at, "an INTERVAL is added to a day or instant, or taken from one")
	case *lambda:
		fail(x.at, "a lambda stands in a function of lists")
	}
	return value{}
}

func writeLiteral(l *literal) value {
	v := value{kind: Type{Base: l.kind}, lit: l, sql: l.text}
	switch l.kind {
	case Text:
		v.sql = quoteText(l.text)
	case Integer:
		digits := strings.TrimLeft(l.text, "-0")
		switch {
		case len(digits) > 19 || len(digits) == 19 && digits > "9223372036854775807":
			v.kind.Base = HugeInt
			v.sql = "toInt128('" + l.text + "')"
		case len(digits) > 10 || len(digits) == 10 && digits > "2147483647":
			v.kind.Base = BigInt
		}
	case Decimal:
		_, behind, _ := strings.Cut(l.text, ".")
		v.kind.Scale = len(behind)
		v.sql = "toDecimal128('" + l.text + "', " + itoa(len(behind)) + ")"
	}
	return v
}

// condition writes an expression that is true or false.
func (w *writer) condition(x expr, e *env) string {
	v := w.value(x, e)
	if v.kind.Base != Boolean && v.kind.Base != Null {
		fail(-1, "a condition is %s, want true or false", v.kind)
	}
	return v.sql
}

func (w *writer) values(list []expr, e *env) []value {
	values := make([]value, len(list))
	for i, x := range list {
		values[i] = w.value(x, e)
	}
	return values
}

func (w *writer) between(x *between, e *env) value {
	v := w.values([]expr{x.value, x.low, x.high}, e)
	kind := widestOf(x.at, v)
	low := compare(">=", v[0], v[1], kind)
	high := compare("<=", v[0], v[2], kind)
	text := "(" + low + " AND " + high + ")"
	if x.not {
		text = "NOT " + text
	}
	return value{sql: text, kind: Type{Base: Boolean}, flag: true}
}

// membership writes IN: of a list as comparisons joined by OR, which is NULL where DuckDB's is.
func (w *writer) membership(x *in, e *env) value {
	v := w.value(x.value, e)
	var text string
	if x.query != nil {
		text = w.inQuery(x, v, e)
	} else {
		all := append([]value{v}, w.values(x.list, e)...)
		kind := widestOf(x.at, all)
		parts := make([]string, len(all)-1)
		for i, o := range all[1:] {
			parts[i] = compare("=", v, o, kind)
		}
		text = "(" + strings.Join(parts, " OR ") + ")"
	}
	if x.not {
		text = "NOT " + text
	}
	return value{sql: text, kind: Type{Base: Boolean}, flag: true}
}

func (w *writer) inQuery(x *in, v value, e *env) string {
	r := w.derived(w.query(x.query, &env{parts: e.parts, outer: e}))
	if len(r.columns) != 1 {
		fail(x.at, "IN of a query with %d columns, want one", len(r.columns))
	}
	inner := member{prefix: w.alias(), rel: r}.value(r.columns[0])
	kind := widestOf(x.at, []value{v, inner})
	prefix, _, _ := strings.Cut(inner.sql, ".")
	from := " FROM (" + r.table + ") AS " + prefix
	one := convert(v, kind)
	return "multiIf((SELECT count()" + from + ") = 0, 0, " + one + " IS NULL, NULL, " + one + " IN (SELECT " + convert(inner, kind) + from + "), 1, (SELECT count()" + from +
		" WHERE " + inner.sql + " IS NULL) > 0, NULL, 0)"
}

func (w *writer) choice(x *choice, e *env) value {
	var results []value
	var conditions []string
	for _, pair := range x.when {
		if x.operand == nil {
			conditions = append(conditions, w.condition(pair[0], e))
		} else {
			both := w.values([]expr{x.operand, pair[0]}, e)
			conditions = append(conditions, compare("=", both[0], both[1], widestOf(x.at, both)))
		}
		results = append(results, w.value(pair[1], e))
	}
	otherwise := writeLiteral(&literal{Null, "NULL", x.at})
	if x.otherwise != nil {
		otherwise = w.value(x.otherwise, e)
	}
	results = append(results, otherwise)
	kind := widestOf(x.at, results)
	if kind.Base == List {
		fail(x.at, "CASE of lists is not translated")
	}
	var b strings.Builder
	b.WriteString("CASE")
	for i, c := range conditions {
		b.WriteString(" WHEN " + c + " THEN " + convert(results[i], kind))
	}
	b.WriteString(" ELSE " + convert(otherwise, kind) + " END")
	return value{sql: b.String(), kind: kind}
}

func (w *writer) list(x *list, e *env) value {
	values := w.values(x.items, e)
	kind := widestOf(x.at, values)
	if kind.Base == List {
		fail(x.at, "lists of lists are not translated")
	}
	if kind.Base == Decimal || kind.Base == Null {
		kind = Type{Base: map[Base]Base{Decimal: Double, Null: Integer}[kind.Base]}
	}
	texts := make([]string, len(values))
	for i, v := range values {
		texts[i] = convert(v, kind)
	}
	of := Type{Base: List, Of: kind.Base}
	return value{sql: "CAST([" + strings.Join(texts, ", ") + "] AS " + of.click() + ")", kind: of, simple: true}
}

// element writes list[index]; outside the list it is NULL.
func (w *writer) element(x *element, e *env) value {
	l, i := w.value(x.value, e), w.value(x.index, e)
	if l.kind.Base != List || !i.kind.whole() {
		fail(x.at, "[…] wants a list and a whole number")
	}
	return value{sql: "arrayElementOrNull(" + l.sql + ", " + convert(i, Type{Base: BigInt}) + ")", kind: Type{Base: l.kind.Of}, simple: true}
}

func (w *writer) scalar(x *scalar, e *env) value {
	r := w.derived(w.query(x.query, &env{parts: e.parts, outer: e}))
	if x.exists {
		return value{sql: "(SELECT count() FROM (" + r.table + ") AS " + w.alias() + ") > 0", kind: Type{Base: Boolean}, flag: true}
	}
	if len(r.columns) != 1 {
		fail(x.at, "a query that stands for a value has %d columns, want one", len(r.columns))
	}
	return value{sql: "(" + r.table + ")", kind: r.columns[0].kind, simple: true}
}
