package engine

import (
	"context"
	_ "embed"
	"regexp"
	"strings"
)

//go:embed macros.sql
var macrosSQL string

// MacrosSQL is the text that defines the macros.
func MacrosSQL() string { return macrosSQL }

// macros makes the macros and tells their names.
func (c *connection) macros(ctx context.Context) (map[string]bool, error) {
	names := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?im)^CREATE MACRO (\w+)`).FindAllStringSubmatch(macrosSQL, -1) {
		names[strings.ToLower(m[1])] = true
	}
	return names, c.run(ctx, macrosSQL)
}
