package engine

import (
	"context"
	_ "embed"
	"strings"
)

//go:embed macros.sql
var macrosSQL string

// macros makes the macros and tells their names.
func (c *connection) macros(ctx context.Context) (map[string]bool, error) {
	if err := c.run(ctx, macrosSQL); err != nil {
		return nil, err
	}
	rows, err := c.query(ctx, "SELECT DISTINCT function_name FROM duckdb_functions() WHERE NOT internal", nil)
	if err != nil {
		return nil, explain(err, "")
	}
	found, err := collect(rows)
	names := map[string]bool{}
	for _, row := range found {
		names[strings.ToLower(row[0].(string))] = true
	}
	return names, err
}
