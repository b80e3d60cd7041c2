package dialect

import (
	"strings"
)

// window writes what stands between the parentheses behind OVER.
func (w *writer) window(o *window, at int, e *env) string {
	full := *o
	if o.base != "" {
		b, ok := e.windows[strings.ToLower(o.base)]
		if !ok {
			fail(at, "there is no window %s", o.base)
		}
		if b.base != "" {
			fail(at, "windows that stand on others are not translated")
		}
		if len(full.partition) > 0 || len(full.order) > 0 && len(b.order) > 0 {
			fail(at, "window %s is given, and more than it leaves open", o.base)
		}
		full.partition = b.partition
		if len(b.order) > 0 {
			full.order = b.order
		}
		if full.frame == "" {
			full.frame = b.frame
		}
	}
	var parts []string
	if len(full.partition) > 0 {
		parts = append(parts, "PARTITION BY "+w.listed(full.partition, e))
	}
	if len(full.order) > 0 {
		terms := make([]string, len(full.order))
		for i, t := range full.order {
			if t.value == nil {
				fail(at, "a window has no ORDER BY ALL")
			}
			v := w.value(t.value, e)
			terms[i] = v.sql + direction(t)
		}
		parts = append(parts, "ORDER BY "+strings.Join(terms, ", "))
	}
	if full.frame != "" {
		parts = append(parts, full.frame)
	}
	return strings.Join(parts, " ")
}

// rank writes a function of windows alone.
func (w *writer) rank(c *call, e *env) value {
	if c.over == nil {
		fail(c.at, "%s stands with OVER", c.name)
	}
	if c.distinct || c.filter != nil || len(c.order) > 0 || c.star {
		fail(c.at, "%s takes arguments alone: no *, DISTINCT, ORDER BY or FILTER", c.name)
	}
	over := w.behind(c, e)
	args := w.values(c.args, e)
	switch c.name {
	case "row_number", "rank", "dense_rank", "rank_dense":
		arity(c, 0)
		name := map[string]string{"rank_dense": "dense_rank"}[c.name]
		if name == "" {
			name = c.name
		}
		return value{sql: "toInt64(" + name + "()" + over + ")", kind: Type{Base: BigInt}, simple: true}
	case "ntile":
		arity(c, 1)
		return value{sql: "toInt64(ntile(" + args[0].sql + ")" + over + ")", kind: Type{Base: BigInt}, simple: true}
	case "percent_rank", "cume_dist":
		arity(c, 0)
		return value{sql: c.name + "()" + over, kind: Type{Base: Double}}
	case "lag", "lead":
		return neighbour(c, args, over)
	}
	want := 1
	if c.name == "nth_value" {
		want = 2
	}
	arity(c, want)
	nulls := " RESPECT NULLS"
	if c.nulls != "" {
		nulls = " " + c.nulls
	}
	text := args[0].nullableSQL()
	if want == 2 {
		if c.nulls == "IGNORE NULLS" {
			fail(c.at, "nth_value with IGNORE NULLS is not translated")
		}
		text += ", " + args[1].sql
		nulls = ""
	}
	return value{sql: c.name + "(" + text + ")" + nulls + over, kind: args[0].kind}
}

// neighbour writes lag and lead.
func neighbour(c *call, args []value, over string) value {
	if len(args) < 1 || len(args) > 3 {
		arity(c, 3)
	}
	if c.nulls == "IGNORE NULLS" {
		fail(c.at, "%s with IGNORE NULLS is not translated", c.name)
	}
	if c.over.frame != "" {
		fail(c.at, "%s looks at the whole window: leave ROWS or RANGE out", c.name)
	}
	parts := []string{args[0].nullableSQL()}
	kind := args[0].kind
	if len(args) > 1 {
		if args[1].lit == nil || args[1].lit.kind != Integer || strings.HasPrefix(args[1].lit.text, "-") {
			fail(c.at, "%s by a variable number of rows is not translated", c.name)
		}
		parts = append(parts, args[1].sql)
	}
	if len(args) > 2 {
		if k := widestOf(c.at, []value{{kind: kind}, args[2]}); k != kind {
			fail(c.at, "%s of %s cannot give %s: cast one of them", c.name, kind, args[2].kind)
		}
		parts = append(parts, "CAST("+convert(args[2], kind)+" AS "+kind.nullable()+")")
	}
	return value{sql: c.name + "(" + strings.Join(parts, ", ") + ")" + over, kind: kind}
}

// nullableSQL is the value, of a type that can be NULL.
func (v value) nullableSQL() string {
	if v.stored {
		return v.sql
	}
	return "toNullable(" + convert(v, v.kind) + ")"
}
