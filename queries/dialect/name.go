package dialect

import (
	"slices"
	"strings"
)

// title is what DuckDB calls a column of the answer that has no name of its own: the expression as it would write it. Of expressions that
// seldom stand without a name it is as the statement has it.
func (w *writer) title(i item, e *env) string {
	if i.named {
		return i.name
	}
	if c, ok := i.value.(*column); ok {
		if name, ok := e.fieldName(c); ok {
			return name
		}
		return i.name
	}
	if text, ok := title(i.value, e); ok {
		return text
	}
	return i.name
}

// fieldName is a column's name as its table has it.
func (e *env) fieldName(c *column) (string, bool) {
	for _, m := range e.members {
		for _, f := range m.rel.columns {
			if strings.EqualFold(f.name, c.name) && (c.table == "" || strings.EqualFold(c.table, m.alias)) {
				return f.name, true
			}
		}
	}
	return "", false
}

func title(x expr, e *env) (string, bool) {
	switch x := x.(type) {
	case *literal:
		switch x.kind {
		case Text:
			return "'" + strings.ReplaceAll(x.text, "'", "''") + "'", true
		case Null:
			return "NULL", true
		case Boolean, Double:
			return "", false
		}
		return x.text, true
	case *column:
		name, ok := e.fieldName(x)
		if slices.Contains([]string{"rows", "value", "text", "source", "at", "locked", "name", "month"}, name) { // Words of SQL.
			name = `"` + name + `"`
		}
		if x.table != "" {
			name = x.table + "." + name
		}
		return name, ok
	case *binary:
		l, ok1 := title(x.left, e)
		r, ok2 := title(x.right, e)
		operator := x.operator
		if operator == "<>" {
			operator = "!="
		}
		return "(" + l + " " + operator + " " + r + ")", ok1 && ok2 && !strings.Contains(operator, "LIKE")
	case *call:
		return callTitle(x, e)
	}
	return "", false
}

func callTitle(c *call, e *env) (string, bool) {
	if c.star {
		return "count_star()", c.filter == nil && c.over == nil
	}
	if c.filter != nil || c.over != nil || len(c.order) > 0 || c.nulls != "" || slices.Contains([]string{"trim", "nullif", "pow"}, c.name) {
		return "", false
	}
	parts := make([]string, len(c.args))
	for i, a := range c.args {
		text, ok := title(a, e)
		if !ok {
			return "", false
		}
		parts[i] = text
	}
	name := c.name
	if name == "coalesce" {
		name = "COALESCE"
	}
	distinct := ""
	if c.distinct {
		distinct = "DISTINCT "
	}
	return name + "(" + distinct + strings.Join(parts, ", ") + ")", true
}
