package dialect

import (
	"slices"
	"strings"
)

// aggregate is a function of a group of rows.
type aggregate struct {
	name  string                  // ClickHouse's.
	as    func(Type) (Type, bool) // What its argument is brought to; false where it takes none such.
	gives func(Type) Type         // Of what it was brought to.
	shell string                  // What stands about it, with $ for it.
	args  int
}

func keep(t Type) Type { return t }

func ordered(t Type) (Type, bool) { return t, t.Base != List }

func asDouble(t Type) (Type, bool) {
	return Type{Base: Double}, t.Number() || t.Base == Null
}

func toDouble(Type) Type { return Type{Base: Double} }

func summed(t Type) (Type, bool) {
	switch {
	case t.whole(), t.Base == Null:
		return Type{Base: HugeInt}, true
	case t.Base == Float:
		return Type{Base: Double}, true
	}
	return t, t.Number()
}

func truth(t Type) (Type, bool) { return t, t.Base == Boolean }

// flagged counts what is true.
func flagged(t Type) (Type, bool) { return Type{Base: HugeInt}, t.Base == Boolean }

func counted(Type) Type { return Type{Base: BigInt} }

const (
	plain    = "$"
	finite   = "arrayMap(v -> if(isFinite(v), v, NULL), [$])[1]" // Of too few rows it is NULL in DuckDB.
	number64 = "toInt64($)"
)

// aggregates are those that are translated.
func aggregates() map[string]aggregate {
	flat := func(name string) aggregate { return aggregate{name, asDouble, toDouble, finite, 1} }
	pair := func(name string) aggregate { return aggregate{name, asDouble, toDouble, finite, 2} }
	return map[string]aggregate{
		"count": {"count", ordered, counted, number64, 1}, "sum": {"sum", summed, keep, plain, 1}, "avg": {"avg", asDouble, toDouble, plain, 1}, "mean": {"avg", asDouble, toDouble, plain, 1},
		"min": {"min", ordered, keep, plain, 1}, "max": {"max", ordered, keep, plain, 1},
		"stddev_samp": flat("stddevSampStable"), "stddev": flat("stddevSampStable"), "stddev_pop": flat("stddevPopStable"),
		"var_samp": flat("varSampStable"), "variance": flat("varSampStable"), "var_pop": flat("varPopStable"),
		"covar_pop": pair("covarPopStable"), "covar_samp": pair("covarSampStable"), "corr": pair("corrStable"),
		"arg_max": {"argMax", ordered, keep, plain, 2}, "arg_min": {"argMin", ordered, keep, plain, 2}, "max_by": {"argMax", ordered, keep, plain, 2}, "min_by": {"argMin", ordered, keep, plain, 2},
		"any_value": {"any", ordered, keep, plain, 1}, "arbitrary": {"any", ordered, keep, plain, 1},
		"bool_and": {"min", truth, keep, plain, 1}, "bool_or": {"max", truth, keep, plain, 1}, "count_if": {"sum", flagged, keep, plain, 1}, "countif": {"sum", flagged, keep, plain, 1},
		"median": {"", nil, toDouble, "", 1}, "quantile_cont": {"", nil, toDouble, "", 2}, "string_agg": {"", nil, keep, "", 2}, "listagg": {"", nil, keep, "", 2}, "group_concat": {"", nil, keep, "", 2},
	}
}

// ranks are functions of windows alone.
func ranks() map[string]bool {
	return map[string]bool{"row_number": true, "rank": true, "dense_rank": true, "rank_dense": true, "ntile": true, "lag": true, "lead": true, "first_value": true, "last_value": true, "nth_value": true,
		"percent_rank": true, "cume_dist": true}
}

func (w *writer) aggregate(a aggregate, c *call, e *env) value {
	if c.nulls != "" {
		fail(c.at, "%s with %s is not translated", c.name, c.nulls)
	}
	if c.star || c.name == "count" && len(c.args) == 0 {
		if c.name != "count" || c.distinct {
			fail(c.at, "%s of * is not translated", c.name)
		}
		return value{sql: "toInt64(count()" + w.behind(c, e) + ")", kind: Type{Base: BigInt}, simple: true}
	}
	switch c.name {
	case "median", "quantile_cont":
		return w.quantile(c, e)
	case "string_agg", "listagg", "group_concat":
		return w.joinedTexts(c, e)
	}
	arity(c, a.args)
	if len(c.order) > 0 && !slices.Contains([]string{"count", "min", "max"}, c.name) {
		fail(c.at, "%s with ORDER BY is not translated", c.name)
	}
	if c.distinct && (c.over != nil || a.args > 1) {
		fail(c.at, "DISTINCT in %s is not translated there", c.name)
	}
	args := w.values(c.args, e)
	var kinds []Type
	parts := make([]string, len(args))
	for i, v := range args {
		kind, ok := a.as(v.kind)
		if !ok {
			fail(c.at, "%s of %s", c.name, v.kind)
		}
		kinds = append(kinds, kind)
		parts[i] = convert(v, kind)
		if !v.stored || v.kind != kind {
			parts[i] = "toNullable(" + parts[i] + ")"
		}
	}
	inner := strings.Join(parts, ", ")
	if c.distinct {
		inner = "DISTINCT " + inner
	}
	text := a.name + "(" + inner + ")" + w.behind(c, e)
	return value{sql: strings.Replace(a.shell, "$", text, 1), kind: a.gives(kinds[0]), simple: a.shell != plain || c.over == nil}
}

// behind writes FILTER and OVER.
func (w *writer) behind(c *call, e *env) string {
	text := ""
	if c.filter != nil {
		text = " FILTER (WHERE " + w.condition(c.filter, e) + ")"
	}
	if c.over != nil {
		text += " OVER (" + w.window(c.over, c.at, e) + ")"
	}
	return text
}

// quantile interpolates as DuckDB does: lower · (1 - d) + upper · d.
func (w *writer) quantile(c *call, e *env) value {
	p := writeLiteral(&literal{Double, "0.5", c.at})
	if c.name == "quantile_cont" {
		arity(c, 2)
		p = w.value(c.args[1], e)
	} else {
		arity(c, 1)
	}
	x := w.value(c.args[0], e)
	if !x.kind.Number() || !p.kind.Number() || x.kind.Base == Decimal || x.kind.Base == Float {
		fail(c.at, "%s of %s is not translated: cast it to DOUBLE", c.name, x.kind)
	}
	if c.distinct || len(c.order) > 0 {
		fail(c.at, "%s with DISTINCT or ORDER BY is not translated", c.name)
	}
	s := w.translator.own["quantile_of"]
	text := s.write([]value{x, {sql: convert(p, Type{Base: Double}), simple: true}})
	if tail := w.behind(c, e); tail != "" {
		const group = "groupArray"
		end := closing(text, strings.Index(text, group)+len(group)) + 1
		text = text[:end] + tail + text[end:]
	}
	return value{sql: text, kind: Type{Base: Double}, simple: true}
}

// joinedTexts writes string_agg in the order of the texts themselves.
func (w *writer) joinedTexts(c *call, e *env) value {
	separator := ","
	if len(c.args) == 2 {
		l, ok := c.args[1].(*literal)
		if !ok || l.kind != Text {
			fail(c.at, "%s wants its separator in quotes", c.name)
		}
		separator = l.text
	} else {
		arity(c, 1)
	}
	x := w.value(c.args[0], e)
	if x.kind.Base != Text || len(c.order) != 1 || c.order[0].value == nil || w.value(c.order[0].value, e).sql != x.sql || c.over != nil {
		fail(c.at, "%s is translated of texts in their own order alone: %s(x, ', ' ORDER BY x)", c.name, c.name)
	}
	sort := "arraySort"
	if c.order[0].desc {
		sort = "arrayReverseSort"
	}
	group := "groupArray"
	if c.distinct {
		group = "groupUniqArray"
	}
	text := "arrayMap(v -> if(length(v) = 0, NULL, arrayStringConcat(v, " + quoteText(separator) + ")), [" + sort + "(" + group + "(" + x.sql + ")" + w.behind(c, e) + ")])[1]"
	return value{sql: text, kind: Type{Base: Text}, simple: true}
}

// aggregated reports whether an expression holds a function of a group.
func (w *writer) aggregated(x expr) bool {
	found := false
	walk(x, func(x expr) {
		if c, ok := x.(*call); ok && c.over == nil {
			_, isAggregate := w.translator.aggregates[c.name]
			s, own := w.translator.own[c.name]
			m, macro := w.translator.macros[c.name]
			found = found || isAggregate || own && s.group || macro && !own && w.aggregated(m.body)
		}
	})
	return found
}

// walk visits an expression and all within it, but no subqueries.
func walk(x expr, visit func(expr)) {
	visit(x)
	each := func(list ...expr) {
		for _, x := range list {
			if x != nil {
				walk(x, visit)
			}
		}
	}
	switch x := x.(type) {
	case *unary:
		each(x.value)
	case *binary:
		each(x.left, x.right)
	case *null:
		each(x.value)
	case *between:
		each(x.value, x.low, x.high)
	case *in:
		each(append([]expr{x.value}, x.list...)...)
	case *cast:
		each(x.value)
	case *call:
		each(x.args...)
	case *list:
		each(x.items...)
	case *element:
		each(x.value, x.index)
	case *lambda:
		each(x.body)
	case *choice:
		each(x.operand, x.otherwise)
		for _, p := range x.when {
			each(p[0], p[1])
		}
	}
}
