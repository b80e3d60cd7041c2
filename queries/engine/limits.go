package engine

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dynolake/schema"
)

// limitColumns are the columns of the limits view: a row a bound that limits.yaml states, in the file's order.
func limitColumns() []Column {
	return []Column{
		{"entry", "INTEGER", "1", "the entry's place in limits.yaml, from 1"},
		{"quantity", "VARCHAR", "", "the column of samples and curves that is limited"},
		{"direction", "VARCHAR", "", "max or min"},
		{"bound", "DOUBLE", "", "what the column should not pass, in its unit"},
		{"unit", "VARCHAR", "", "the column's unit"},
		{"vehicle", "VARCHAR", "", "the vehicle it is for; NULL for any"},
		{"platform", "VARCHAR", "", "the platform it is for; NULL for any"},
		{"duty", "VARCHAR", "", "the duty it is for; NULL for any"},
		{"test", "VARCHAR", "", "the test kind it is for; NULL for any"},
		{"note", "VARCHAR", "", "what limits.yaml says of it"},
	}
}

// limitsView is the query of the limits view.
func limitsView(limits []schema.Limit) string {
	var rows [][]string
	for i, l := range limits {
		column, _ := schema.Lookup(l.Column)
		for _, b := range []struct {
			direction string
			bound     float64
		}{{"max", l.Max}, {"min", l.Min}} {
			if math.IsNaN(b.bound) {
				continue
			}
			rows = append(rows, []string{strconv.Itoa(i + 1), text(l.Column), text(b.direction), strconv.FormatFloat(b.bound, 'e', -1, 64), stated(column.Unit),
				stated(l.Vehicle), stated(l.Platform), stated(l.Duty), stated(l.Test), stated(l.Note)})
		}
	}
	return valuesView(limitColumns(), rows)
}

// valuesView is a query of rows of literals, in the order of its columns.
func valuesView(columns []Column, values [][]string) string {
	names, types := make([]string, len(columns)), make([]string, len(columns))
	for i, c := range columns {
		names[i] = ident(c.Name)
		types[i] = "CAST(" + names[i] + " AS " + c.Type + ") AS " + names[i]
	}
	rows := make([]string, 0, len(values)+1)
	for _, v := range values {
		rows = append(rows, "("+strings.Join(v, ", ")+")")
	}
	where := ""
	if len(rows) == 0 {
		rows, where = append(rows, "("+strings.TrimSuffix(strings.Repeat("NULL, ", len(columns)), ", ")+")"), " WHERE false"
	}
	return fmt.Sprintf("SELECT %s FROM (VALUES %s) AS v(%s)%s",
		strings.Join(types, ", "), strings.Join(rows, ", "), strings.Join(names, ", "), where)
}
