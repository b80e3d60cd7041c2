package fleet

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"dynolake/queries/engine"
	"dynolake/schema"
)

// OpenTables starts a session whose views hold the given rows, by view, as engine.OpenTables does: columns that are not given are NULL, views that
// are not given are empty.
func OpenTables(ctx context.Context, given map[string]engine.Rows, o Options) (*Session, error) {
	sources := map[string]string{}
	for view, columns := range engine.Views() {
		source, err := givenSource(columns, given[view])
		if err != nil {
			return nil, fmt.Errorf("open given tables: view %s: %w", view, err)
		}
		sources[view] = source
	}
	s, err := Open(ctx, schema.Snapshot{}, o)
	if err != nil {
		return nil, err
	}
	s.place.given = sources
	return s, nil
}

// givenSource is a SELECT of rows that stand in it as text.
func givenSource(columns []engine.Column, rows engine.Rows) (string, error) {
	names, types := make([]string, len(columns)), make([]string, len(columns))
	for i, c := range columns {
		names[i] = ident(c.Name)
		kind := typeOf(c.Type)
		if list, ok := strings.CutSuffix(c.Type, "[]"); ok {
			kind = "Array(" + typeOf(list) + ")"
		}
		types[i] = names[i] + " " + kind
	}
	for _, name := range rows.Columns {
		if !slices.ContainsFunc(columns, func(c engine.Column) bool { return c.Name == name }) {
			return "", fmt.Errorf("it has no column %q", name)
		}
	}
	structure := text(strings.Join(types, ", "))
	if len(rows.Values) == 0 {
		return "SELECT * FROM null(" + structure + ")", nil
	}
	var b strings.Builder
	for n, row := range rows.Values {
		if len(row) != len(rows.Columns) {
			return "", fmt.Errorf("row %d: %d values for %d columns", n+1, len(row), len(rows.Columns))
		}
		for i, c := range columns {
			if i > 0 {
				b.WriteByte('\t')
			}
			var v any
			if at := slices.Index(rows.Columns, c.Name); at >= 0 {
				v = row[at]
			}
			cell, err := givenCell(v, c.Type)
			if err != nil {
				return "", fmt.Errorf("row %d, column %s: %w", n+1, c.Name, err)
			}
			b.WriteString(cell)
		}
		b.WriteByte('\n')
	}
	return "SELECT " + strings.Join(names, ", ") + " FROM format(" + text("TabSeparated") + ", " + structure + ", " + text(b.String()) + ")", nil
}

// givenCell writes a value as the engine reads it from text between tabulators.
func givenCell(v any, kind string) (string, error) {
	switch {
	case v == nil && strings.HasSuffix(kind, "[]"):
		return "[]", nil
	case v == nil:
		return `\N`, nil
	}
	at, isTime := v.(time.Time)
	if kind == "TIMESTAMP WITH TIME ZONE" && !isTime {
		var err error
		if at, err = time.Parse(time.RFC3339, fmt.Sprint(v)); err != nil {
			if at, err = time.Parse(time.DateTime, fmt.Sprint(v)); err != nil {
				return "", fmt.Errorf("found %q, want a time such as 2026-03-31T08:30:00Z", v)
			}
		}
		isTime = true
	}
	if isTime {
		return at.UTC().Format("2006-01-02 15:04:05.000000"), nil
	}
	return strings.NewReplacer(`\`, `\\`, "\t", `\t`, "\n", `\n`, "\r", `\r`).Replace(fmt.Sprint(v)), nil
}
