package dialect

import (
	"slices"
	"strings"
)

// compound is a query as it is written, before its columns' types are settled.
type compound struct {
	parts     []*selected
	operators []string // Between the parts.
	order     string   // With its keyword; empty without.
	limit     string   // The same.
}

// selected is one SELECT.
type selected struct {
	names    []string
	values   []value
	distinct bool
	tail     string // FROM and what follows.
	by       string // LIMIT 1 BY, for DISTINCT ON.
}

func (c *compound) names() []string { return c.parts[0].names }

// kinds are the types of the columns, each the widest of all parts.
func (c *compound) kinds() []Type {
	kinds := make([]Type, len(c.parts[0].values))
	for i := range kinds {
		same := make([]value, len(c.parts))
		for j, p := range c.parts {
			same[j] = p.values[i]
		}
		kinds[i] = widestOf(-1, same)
	}
	return kinds
}

// absent tells of a list whether an empty one stands for NULL.
func (c *compound) absent(i int) bool {
	seen := map[bool]bool{}
	for _, p := range c.parts {
		if v := p.values[i]; v.kind.Base == List {
			seen[v.absent] = true
		} else if v.kind.Base == Null {
			seen[true] = true
		}
	}
	if len(seen) > 1 && c.kinds()[i].Base == List {
		fail(-1, "a list that can be NULL is joined with one that can be empty: that is not translated")
	}
	return seen[true] && c.kinds()[i].Base == List
}

// write gives the SQL. Of the answer every column can hold NULL; a list that can be it is given as its text.
func (c *compound) write(w *writer, kinds []Type, answer bool) string {
	texts := make([]string, len(c.parts))
	for i, p := range c.parts {
		texts[i] = p.write(kinds, answer, c.absent)
	}
	behind := c.order + c.limit
	if len(texts) == 1 {
		return texts[0] + c.order + c.parts[0].by + c.limit
	}
	var b strings.Builder
	for i, t := range texts {
		if i > 0 {
			b.WriteString(" " + c.operators[i-1] + " ")
		}
		b.WriteString(t)
	}
	if behind == "" {
		return b.String()
	}
	return "SELECT * FROM (" + b.String() + ") AS " + w.alias() + behind
}

func (s *selected) write(kinds []Type, answer bool, absent func(int) bool) string {
	columns := make([]string, len(s.values))
	for i, name := range unique(s.names) {
		text := convert(s.values[i], kinds[i])
		switch {
		case answer && absent(i): // A text, for there is no list that is NULL.
			text = "CAST(if(empty(" + text + "), NULL, toString(" + text + ")) AS Nullable(String))"
		case answer:
			text = "CAST(" + text + " AS " + kinds[i].nullable() + ")"
		}
		columns[i] = text + " AS " + quoteName(name)
	}
	head := "SELECT "
	if s.distinct {
		head = "SELECT DISTINCT "
	}
	return head + strings.Join(columns, ", ") + s.tail
}

// query writes a query.
func (w *writer) query(q *query, around *env) *compound {
	e := &env{parts: map[string]*part{}, outer: around}
	for name, p := range around.parts {
		e.parts[name] = p
	}
	for _, c := range q.with {
		at := &env{parts: map[string]*part{}, outer: around.outer}
		for name, p := range e.parts {
			at.parts[name] = p
		}
		e.parts[strings.ToLower(c.name)] = &part{common: c, env: at}
	}
	c := &compound{}
	last := w.selection(q.first, e, c, len(q.rest) == 0, q)
	for _, j := range q.rest {
		switch j.operator {
		case "UNION ALL":
		case "UNION":
			if slices.Contains(c.operators, "UNION ALL") {
				fail(j.at, "UNION behind UNION ALL is not translated: put parentheses about one of them")
			}
			j.operator = "UNION DISTINCT"
		default:
			fail(j.at, "%s is not translated", j.operator)
		}
		if len(c.operators) > 0 && c.operators[0] != j.operator {
			fail(j.at, "UNION and UNION ALL beside each other are not translated: put parentheses about one of them")
		}
		c.operators = append(c.operators, j.operator)
		w.selection(j.part, e, c, false, q)
		if n := len(c.parts[len(c.parts)-1].values); n != len(c.parts[0].values) {
			fail(j.at, "%d columns are joined with %d", n, len(c.parts[0].values))
		}
	}
	w.ending(q, c, last)
	return c
}

// ending writes ORDER BY and LIMIT.
func (w *writer) ending(q *query, c *compound, e *env) {
	order := q.order
	if len(order) == 1 && order[0].value == nil {
		order = nil
		for i := range c.names() {
			order = append(order, sorting{&literal{Integer, itoa(i + 1), q.at}, q.order[0].desc, q.order[0].nulls})
		}
	}
	for i, t := range order {
		if i == 0 {
			c.order = " ORDER BY "
		} else {
			c.order += ", "
		}
		c.order += w.sortKey(t, c, e) + direction(t)
	}
	if q.limit != nil {
		c.limit = " LIMIT " + wholeNumber(q.limit)
	}
	if q.offset != nil {
		c.limit += " OFFSET " + wholeNumber(q.offset)
	}
}

func wholeNumber(x expr) string {
	if l, ok := x.(*literal); ok && l.kind == Integer {
		return l.text
	}
	fail(-1, "LIMIT and OFFSET want a whole number")
	return ""
}

func direction(t sorting) string {
	s := " ASC"
	if t.desc {
		s = " DESC"
	}
	if t.nulls != "" {
		return s + " NULLS " + t.nulls
	}
	return s + " NULLS LAST"
}

// sortKey writes a term of ORDER BY: the number of a column of the answer where it names one.
func (w *writer) sortKey(t sorting, c *compound, e *env) string {
	if t.value == nil {
		fail(-1, "ORDER BY ALL stands alone")
	}
	if l, ok := t.value.(*literal); ok && l.kind == Integer {
		if n := atoiSmall(l.text); n < 1 || n > len(c.names()) {
			fail(l.at, "ORDER BY %s: the answer has %d columns", l.text, len(c.names()))
		}
		return l.text
	}
	if n, ok := t.value.(*column); ok && n.table == "" {
		for i, name := range c.names() {
			if strings.EqualFold(name, n.name) {
				return itoa(i + 1)
			}
		}
	}
	if len(c.parts) > 1 || e == nil {
		fail(-1, "ORDER BY of a UNION names columns of its answer")
	}
	v := w.value(t.value, e)
	if slices.ContainsFunc(c.parts[0].values, func(o value) bool { return o.sql == v.sql }) {
		return itoa(1 + slices.IndexFunc(c.parts[0].values, func(o value) bool { return o.sql == v.sql }))
	}
	if c.parts[0].distinct {
		fail(-1, "ORDER BY of a SELECT DISTINCT names columns of its answer")
	}
	return v.sql
}

// selection writes one SELECT and gives what its names mean, for ORDER BY.
func (w *writer) selection(s *selection, around *env, c *compound, alone bool, q *query) *env {
	if s.nested != nil {
		inner := w.query(s.nested, around)
		r := w.derived(inner)
		prefix := w.alias()
		m := member{prefix: prefix, rel: r}
		part := &selected{names: inner.names(), tail: " FROM (" + r.table + ") AS " + prefix}
		for _, f := range r.columns {
			part.values = append(part.values, m.value(f))
		}
		c.parts = append(c.parts, part)
		return nil
	}
	e := &env{parts: around.parts, outer: around.outer, windows: s.windows}
	part := &selected{distinct: s.distinct}
	if s.from != nil {
		part.tail = " FROM " + w.from(s.from, e)
	}
	items := expand(s.items, e)
	e.items = items
	for _, i := range items {
		w.loose = s.bare() && len(items) == 1
		v := w.value(i.value, e)
		w.loose = false
		part.names, part.values = append(part.names, w.title(i, e)), append(part.values, v)
	}
	part.tail += w.clauses(s, items, e)
	if len(s.on) > 0 {
		if !alone || len(q.order) == 0 {
			fail(s.at, "DISTINCT ON without ORDER BY keeps any row: say in which order")
		}
		part.by = " LIMIT 1 BY " + w.listed(s.on, e)
	}
	c.parts = append(c.parts, part)
	return e
}

// clauses writes WHERE, GROUP BY, HAVING and QUALIFY.
func (w *writer) clauses(s *selection, items []item, e *env) string {
	var b strings.Builder
	if s.where != nil {
		b.WriteString(" WHERE " + w.condition(s.where, e))
	}
	group := s.group
	if s.groupAll {
		for _, i := range items {
			if !w.aggregated(i.value) {
				group = append(group, i.value)
			}
		}
	}
	for i, g := range group {
		if l, ok := g.(*literal); ok && l.kind == Integer {
			n := atoiSmall(l.text)
			if n < 1 || n > len(items) {
				fail(l.at, "GROUP BY %s: the SELECT has %d columns", l.text, len(items))
			}
			g = items[n-1].value
		}
		if i == 0 {
			b.WriteString(" GROUP BY ")
		} else {
			b.WriteString(", ")
		}
		b.WriteString(w.value(g, e).sql)
	}
	if s.having != nil {
		b.WriteString(" HAVING " + w.condition(s.having, e))
	}
	if s.qualify != nil {
		b.WriteString(" QUALIFY " + w.condition(s.qualify, e))
	}
	return b.String()
}

func (w *writer) listed(list []expr, e *env) string {
	texts := make([]string, len(list))
	for i, x := range list {
		texts[i] = w.value(x, e).sql
	}
	return strings.Join(texts, ", ")
}

func atoiSmall(digits string) int {
	n := 0
	for _, d := range digits {
		n = min(n*10+int(d-'0'), 1<<20)
	}
	return n
}

// bare reports whether rows are neither chosen nor grouped.
func (s *selection) bare() bool {
	return s.where == nil && s.group == nil && !s.groupAll && s.having == nil && s.qualify == nil && !s.distinct && len(s.on) == 0
}
