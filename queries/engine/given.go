package engine

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"dynolake/schema"
)

// Rows are rows given by hand, for the tests of queries. A value is nil, a number, a bool, a time.Time or its text.
type Rows struct {
	Columns []string
	Values  [][]any
}

// OpenTables starts a session whose views hold the given rows, by view; columns that are not given are NULL, views that are not
// given are empty. It is the same session otherwise: the same types, admission and locks. unmapped is given unfolded.
func OpenTables(ctx context.Context, given map[string]Rows, o Options) (*Session, error) {
	for name := range given {
		if !slices.Contains(viewNames(), name) {
			return nil, fmt.Errorf("open given tables: there is no view %q: want %s", name, strings.Join(viewNames(), ", "))
		}
	}
	s, conn, err := o.start(ctx)
	if err != nil {
		return nil, err
	}
	defer conn.close()
	err = s.admitColumns(ctx, conn, o.Columns)
	stated := statedViews(o)
	for view, columns := range Views() {
		if rows, ok := given[view]; ok && err == nil {
			err = conn.given(ctx, view, columns, rows, s.own[view])
		} else if query, ok := stated[view]; ok && err == nil {
			err = conn.run(ctx, s.creation(view, query))
		} else if err == nil {
			t, _ := schema.LookupTable(view)
			err = conn.run(ctx, s.creation(view, emptyView(t)))
		}
	}
	if err == nil {
		err = conn.lock(ctx, nil)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open given tables: %w", err), s.Close())
	}
	return s, nil
}

// given makes a table of the view's columns and puts the rows in. Where the user has columns of his own the view lies over it.
func (c *connection) given(ctx context.Context, view string, columns []Column, rows Rows, own []UserColumn) error {
	table := view
	if len(own) > 0 {
		table = "given_" + view
	}
	types := make([]string, len(columns))
	for i, col := range columns {
		types[i] = ident(col.Name) + " " + col.Type
	}
	if err := c.run(ctx, "CREATE TABLE "+ident(table)+" ("+strings.Join(types, ", ")+")"); err != nil {
		return err
	}
	names, casts := make([]string, len(rows.Columns)), make([]string, len(rows.Columns))
	for i, name := range rows.Columns {
		at := slices.IndexFunc(columns, func(c Column) bool { return c.Name == name })
		if at < 0 {
			return fmt.Errorf("view %s has no column %q", view, name)
		}
		names[i], casts[i] = ident(name), "CAST(? AS "+columns[at].Type+")"
	}
	insert := "INSERT INTO " + ident(table) + " (" + strings.Join(names, ", ") + ") VALUES "
	one := "(" + strings.Join(casts, ", ") + ")"
	const together = 200
	for first := 0; first < len(rows.Values); first += together {
		some := rows.Values[first:min(first+together, len(rows.Values))]
		args := make([]any, 0, len(some)*len(names))
		for i, row := range some {
			if len(row) != len(names) {
				return fmt.Errorf("view %s, row %d: %d values for %d columns", view, first+i+1, len(row), len(names))
			}
			args = append(args, row...)
		}
		statement := insert + strings.TrimSuffix(strings.Repeat(one+", ", len(some)), ", ")
		if _, err := c.collect(ctx, statement, args...); err != nil {
			return fmt.Errorf("view %s, rows %d to %d: %w", view, first+1, first+len(some), err)
		}
	}
	if len(own) > 0 {
		return c.run(ctx, "CREATE VIEW "+ident(view)+" AS "+extended("SELECT * FROM "+ident(table), own))
	}
	return nil
}
