package dialect

import (
	"strings"
)

// relation is something with columns: a view, a step, a query in FROM.
type relation struct {
	table   string // As ClickHouse names it; empty for a query.
	columns []field
	stored  bool // Its columns can hold NULL by their type.
}

type field struct {
	name string
	sql  string // As ClickHouse names it within the relation.
	kind Type

	absent bool // A list that is empty where it is NULL.
}

// source of a FROM under its alias.
type member struct {
	alias  string // As the statement names it.
	prefix string // As ClickHouse does.
	rel    *relation
	hidden map[string]bool // Columns that USING shows once, on the other side.
}

// env is what names mean at a place of a statement.
type env struct {
	parts   map[string]*part // WITH parts, by name in lower case.
	members []member         // What FROM names.
	items   []item           // Of the SELECT, for its aliases.
	outer   *env             // Of the statement around a subquery.
	windows map[string]*window
	params  map[string]bound // Arguments of the macro that is written.
	lambdas map[string]Type
	expands int // How many aliases stand for each other.
}

// bound is a macro's argument, with what its names mean.
type bound struct {
	value expr
	env   *env
}

// part is one part of a WITH; it is written when it is first read.
type part struct {
	common common
	env    *env
	rel    *relation
	busy   bool
}

// relation finds what a FROM names.
func (w *writer) relation(e *env, t *table) *relation {
	name := strings.ToLower(t.name)
	if p, ok := e.parts[name]; ok && !p.busy {
		if p.rel == nil {
			p.busy = true
			p.rel = renamed(w.part(p.common.name, w.query(p.common.query, p.env)), p.common.names, p.common.at)
			p.busy = false
		}
		return p.rel
	}
	if r, ok := w.translator.views[name]; ok {
		return r
	}
	fail(t.at, "there is no table or view %s", t.name)
	return nil
}

// renamed gives the first columns other names.
func renamed(r *relation, names []string, at int) *relation {
	if len(names) == 0 {
		return r
	}
	if len(names) > len(r.columns) {
		fail(at, "%d names for %d columns", len(names), len(r.columns))
	}
	other := &relation{r.table, append([]field(nil), r.columns...), r.stored}
	for i, n := range names {
		other.columns[i].name = n
	}
	return other
}

// column writes what a name means: an argument of a macro or lambda, a column, an alias of the SELECT.
func (w *writer) column(c *column, e *env) value {
	name := strings.ToLower(c.name)
	if strings.HasPrefix(c.name, "$") {
		a, ok := w.args[c.name[1:]]
		if !ok {
			fail(c.at, "parameter %s is not given", c.name)
		}
		return w.value(a, e)
	}
	if c.table == "" {
		if b, ok := e.params[name]; ok {
			return w.value(b.value, b.env)
		}
		if kind, ok := e.lambdas[name]; ok {
			return value{sql: quoteName(name), kind: kind}
		}
	}
	if e.params != nil {
		fail(c.at, "a macro knows no column %s", c.name)
	}
	if v, ok := e.find(c); ok {
		return v
	}
	if c.table == "" {
		for _, i := range e.items {
			if strings.EqualFold(i.name, c.name) && e.expands < len(e.items) {
				inner := *e
				inner.expands++
				return w.value(i.value, &inner)
			}
		}
	}
	for o := e.outer; o != nil; o = o.outer {
		if _, ok := o.find(c); ok {
			fail(c.at, "column %s is of the statement around this one: subqueries that depend on it are not translated, join instead", c.name)
		}
	}
	if c.table != "" {
		fail(c.at, "there is no column %s.%s", c.table, c.name)
	}
	fail(c.at, "there is no column %s", c.name)
	return value{}
}

// find looks among the columns of FROM.
func (e *env) find(c *column) (value, bool) {
	var found value
	n := 0
	for _, m := range e.members {
		if c.table != "" && !strings.EqualFold(c.table, m.alias) {
			continue
		}
		for _, f := range m.rel.columns {
			if !strings.EqualFold(f.name, c.name) || c.table == "" && m.hidden[strings.ToLower(f.name)] {
				continue
			}
			found = m.value(f)
			n++
		}
	}
	if n > 1 {
		fail(c.at, "column %s is ambiguous: say of which table", c.name)
	}
	return found, n == 1
}

func (m member) value(f field) value {
	return value{sql: m.prefix + "." + f.sql, kind: f.kind, stored: m.rel.stored, absent: f.absent}
}
