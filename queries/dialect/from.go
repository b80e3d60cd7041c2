package dialect

import (
	"strings"
)

// from writes what stands in FROM and adds what it names.
func (w *writer) from(s source, e *env) string {
	switch s := s.(type) {
	case *table:
		r := renamed(w.relation(e, s), s.names, s.at)
		alias := s.alias
		if alias == "" {
			alias = s.name
		}
		m := member{alias: alias, prefix: w.alias(), rel: r}
		e.add(m, s.at)
		return r.table + " AS " + m.prefix
	case *derived:
		r := w.derived(w.query(s.query, &env{parts: e.parts, outer: e}))
		m := member{alias: s.alias, prefix: w.alias(), rel: renamed(r, s.names, s.at)}
		e.add(m, s.at)
		return "(" + r.table + ") AS " + m.prefix
	case *join:
		return w.join(s, e)
	}
	return ""
}

func (e *env) add(m member, at int) {
	for _, o := range e.members {
		if m.alias != "" && strings.EqualFold(o.alias, m.alias) {
			fail(at, "two tables are called %s: give one another name", m.alias)
		}
	}
	e.members = append(e.members, m)
}

// derived makes a query something with columns.
func (w *writer) derived(c *compound) *relation {
	kinds := c.kinds()
	r := &relation{table: c.write(w, kinds, false)}
	for i, n := range unique(c.names()) {
		r.columns = append(r.columns, field{n, quoteName(n), kinds[i], c.absent(i)})
	}
	return r
}

func (w *writer) join(j *join, e *env) string {
	left := w.from(j.left, e)
	split := len(e.members)
	right := w.from(j.right, e)
	if nested, ok := j.right.(*join); ok {
		fail(nested.at, "joins in parentheses are not translated")
	}
	text := left + " " + j.kind + " JOIN " + right
	if j.on != nil {
		return text + " ON " + w.condition(j.on, e)
	}
	if len(j.using) == 0 {
		return text
	}
	if j.kind == "FULL" || j.kind == "RIGHT" {
		fail(j.at, "%s JOIN … USING is not translated: write ON and coalesce", j.kind)
	}
	var on []string
	for _, name := range j.using {
		l := (&env{members: e.members[:split]}).must(name, j.at)
		r := (&env{members: e.members[split:]}).must(name, j.at)
		kind := widestOf(j.at, []value{l, r})
		on = append(on, convert(l, kind)+" = "+convert(r, kind))
		m := &e.members[split]
		if m.hidden == nil {
			m.hidden = map[string]bool{}
		}
		m.hidden[strings.ToLower(name)] = true
	}
	return text + " ON " + strings.Join(on, " AND ")
}

func (e *env) must(name string, at int) value {
	v, ok := e.find(&column{"", name, at})
	if !ok {
		fail(at, "USING: there is no column %s on both sides", name)
	}
	return v
}

// expand writes stars out.
func expand(items []item, e *env) []item {
	var all []item
	for _, i := range items {
		s, ok := i.value.(*star)
		if !ok {
			all = append(all, i)
			continue
		}
		found := false
		for _, m := range e.members {
			if s.table != "" && !strings.EqualFold(s.table, m.alias) {
				continue
			}
			found = true
			for _, f := range m.rel.columns {
				if m.hidden[strings.ToLower(f.name)] && s.table == "" || contains(s.exclude, f.name) {
					continue
				}
				all = append(all, item{&written{m.value(f)}, f.name, true})
			}
		}
		if !found {
			fail(s.at, "* of nothing: there is no table %s", s.table)
		}
	}
	return all
}

func contains(names []string, name string) bool {
	for _, n := range names {
		if strings.EqualFold(n, name) {
			return true
		}
	}
	return false
}

// written is an expression that is written already.
type written struct{ value value }
