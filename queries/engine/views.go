package engine

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"dynolake/schema"
)

// Column is a column of a view, with its SQL type.
type Column struct {
	Name, Type string
	Unit       string // Empty where it has none.
	Meaning    string
}

// Views tells the columns of a session's views, by view.
func Views() map[string][]Column {
	all := map[string][]Column{"vehicles": vehicleColumns(), "limits": limitColumns()}
	for _, t := range schema.Tables() {
		columns := make([]Column, len(t.Columns))
		for i, c := range t.Columns {
			columns[i] = Column{c.Name, strings.TrimSuffix(sqlType(c.Type), "[]"), c.Unit, c.Meaning}
		}
		all[t.Name] = columns
	}
	return all
}

// sqlType gives the SQL type of a stored column's type.
func sqlType(stored string) string {
	switch stored {
	case "float32":
		return "FLOAT"
	case "float64":
		return "DOUBLE"
	case "int32":
		return "INTEGER"
	case "int64":
		return "BIGINT"
	case "bool":
		return "BOOLEAN"
	case "timestamp":
		return "TIMESTAMP WITH TIME ZONE"
	case "list_float64":
		return "DOUBLE[]"
	case "list_string":
		return "VARCHAR[]"
	}
	return "VARCHAR"
}

// tableView makes a table's view over its files; kind is VIEW, or TEMP VIEW for one that only this connection sees.
func (s *Session) tableView(ctx context.Context, c *connection, kind string, t schema.Table, files []string, own []UserColumn) error {
	query := emptyView(t)
	if len(files) > 0 {
		var err error
		if query, err = s.filesView(ctx, c, t, files, s.part.where(t.Name)); err != nil {
			return err
		}
	}
	return c.run(ctx, "CREATE "+kind+" "+ident(t.Name)+" AS "+extended(query, own))
}

// filesView is the query of a table's view over its files; where may be empty.
func (s *Session) filesView(ctx context.Context, c *connection, t schema.Table, files []string, where string) (string, error) {
	if err := s.fieldIDs(ctx, c, s.paths(files)); err != nil {
		return "", fmt.Errorf("read table %s: %w", t.Name, err)
	}
	return s.scan(t, files, where), nil
}

// scan is filesView for files of which it is known that they have field ids.
func (s *Session) scan(t schema.Table, files []string, where string) string {
	names, ids := make([]string, len(t.Columns)), make([]string, len(t.Columns))
	for i, col := range t.Columns {
		names[i] = ident(col.Name)
		if strings.HasPrefix(col.Type, "list_") { // Unfolded: a row a value, the shorter list filled up with NULL.
			names[i] = "unnest(" + names[i] + ") AS " + names[i]
		}
		ids[i] = fmt.Sprintf("%d: {name: %s, type: %s, default_value: NULL}", col.ID, text(col.Name), text(sqlType(col.Type)))
	}
	return fmt.Sprintf("SELECT %s FROM read_parquet([%s], schema = MAP {%s})%s",
		strings.Join(names, ", "), strings.Join(s.paths(files), ", "), strings.Join(ids, ", "), where)
}

// paths writes the places of files as SQL has texts.
func (s *Session) paths(files []string) []string {
	list := make([]string, len(files))
	for i, f := range files {
		list[i] = text(literal(filepath.Join(s.root, filepath.FromSlash(f))))
	}
	return list
}

// publishedView makes a view of what a lake stated when it was published; lists are kept as JSON there.
func publishedView(view, root string, files []string) string {
	columns := Views()[view]
	names, paths := make([]string, len(columns)), make([]string, len(files))
	for i, c := range columns {
		names[i] = "CAST(" + ident(c.Name) + " AS " + c.Type + ") AS " + ident(c.Name)
	}
	for i, f := range files {
		paths[i] = text(literal(filepath.Join(root, filepath.FromSlash(f))))
	}
	return "SELECT " + strings.Join(names, ", ") + " FROM read_parquet([" + strings.Join(paths, ", ") + "])"
}

func emptyView(t schema.Table) string {
	names := make([]string, len(t.Columns))
	for i, col := range t.Columns {
		names[i] = "CAST(NULL AS " + strings.TrimSuffix(sqlType(col.Type), "[]") + ") AS " + ident(col.Name)
	}
	return "SELECT " + strings.Join(names, ", ") + " WHERE false"
}

// fieldIDs looks into the oldest and the newest file: one without field ids would give NULL in every column and no error.
func (s *Session) fieldIDs(ctx context.Context, c *connection, paths []string) error {
	for _, p := range slices.Compact([]string{paths[0], paths[len(paths)-1]}) {
		if _, looked := s.looked.Load(p); looked {
			continue
		}
		found, err := c.collect(ctx, "SELECT count(field_id) FROM parquet_schema("+p+")")
		if err != nil {
			return err
		}
		if n, ok := found[0][0].(int64); !ok || n == 0 {
			return fmt.Errorf("file %s has no field ids, so its columns cannot be told: it was not written by the lake", p)
		}
		s.looked.Store(p, true)
	}
	return nil
}

// pick leaves out sample files that hold none of the runs asked for: those whose name begins with another run's id. Files that
// hold several runs have other names and stay.
func pick(files, runs []string) []string {
	return slices.DeleteFunc(slices.Clone(files), func(f string) bool {
		id, _, ok := strings.Cut(filepath.Base(f), "-")
		_, err := strconv.ParseUint(id, 16, 64)
		return ok && len(id) == 16 && err == nil && !slices.Contains(runs, id)
	})
}

// ident quotes a name, text a string, as SQL has them.
func ident(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
func text(s string) string     { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// literal writes a path so that none of it is a pattern.
func literal(path string) string {
	return strings.NewReplacer("[", "[[]", "*", "[*]", "?", "[?]").Replace(path)
}
