package main

import (
	"dynolake/queries/engine"
	"dynolake/queries/result"
)

// macroRows lists the functions that SQL has here beside its own.
func macroRows() *result.Rows {
	var rows [][]any
	for _, m := range engine.Macros() {
		rows = append(rows, []any{m.Call, m.Meaning, m.SQL})
	}
	return result.Of(texts("macro", "meaning", "sql"), rows)
}
