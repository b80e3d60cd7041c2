package dialect

import "strings"

// listFunction writes a call of a function whose arguments are no plain values.
type listFunction func(w *writer, c *call, e *env) value

// listFunctions are those that take a lambda or give several rows.
func listFunctions() map[string]listFunction {
	return map[string]listFunction{
		"list_transform": (*writer).transform, "array_transform": (*writer).transform, "list_apply": (*writer).transform,
		"list_filter": (*writer).filter, "array_filter": (*writer).filter,
		"unnest": (*writer).unnest,
	}
}

func (w *writer) lambdaOf(c *call, e *env) (list value, name string, body value) {
	arity(c, 2)
	list = w.value(c.args[0], e)
	l, ok := c.args[1].(*lambda)
	if list.kind.Base != List || !ok || len(l.names) != 1 {
		fail(c.at, "%s wants a list and a lambda of one argument", c.name)
	}
	if list.absent {
		fail(c.at, "%s of a list that can be NULL is not translated", c.name)
	}
	inner := *e
	inner.lambdas = map[string]Type{strings.ToLower(l.names[0]): {Base: list.kind.Of}}
	for n, k := range e.lambdas {
		if n != strings.ToLower(l.names[0]) {
			inner.lambdas[n] = k
		}
	}
	return list, quoteName(strings.ToLower(l.names[0])), w.value(l.body, &inner)
}

func (w *writer) transform(c *call, e *env) value {
	list, name, body := w.lambdaOf(c, e)
	if body.kind.Base == List || body.kind.Base == Null {
		fail(c.at, "%s to %s is not translated", c.name, body.kind)
	}
	if body.kind.Base == Decimal {
		body = value{sql: convert(body, Type{Base: Double}), kind: Type{Base: Double}}
	}
	of := Type{Base: List, Of: body.kind.Base}
	return value{sql: "CAST(arrayMap(" + name + " -> " + convert(body, body.kind) + ", " + list.sql + ") AS " + of.click() + ")", kind: of, simple: true}
}

func (w *writer) filter(c *call, e *env) value {
	list, name, body := w.lambdaOf(c, e)
	if body.kind.Base != Boolean {
		fail(c.at, "%s by %s, want a condition", c.name, body.kind)
	}
	return value{sql: "arrayFilter(" + name + " -> ifNull(" + body.sql + ", 0), " + list.sql + ")", kind: list.kind, simple: true}
}

// unnest gives a row a value; one of them in a SELECT without groups is the same on both engines.
func (w *writer) unnest(c *call, e *env) value {
	arity(c, 1)
	if !w.loose {
		fail(c.at, "%s is translated as the one that a SELECT without WHERE, GROUP BY, DISTINCT and windows has", c.name)
	}
	list := w.value(c.args[0], e)
	if list.kind.Base != List {
		fail(c.at, "%s of %s, want a list", c.name, list.kind)
	}
	w.loose = false
	return value{sql: "arrayJoin(" + list.sql + ")", kind: Type{Base: list.kind.Of}, simple: true}
}
