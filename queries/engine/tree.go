package engine

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"dynolake/schema"
)

// functionsTXT lists the scalar functions, aggregates and operators that a statement may use, a name a line: those of the
// database that read their arguments alone. Left out are those that tell of the machine or the settings, that wait, log, plan
// SQL given as text or change the session. A function that is new in a later version is refused until it is listed.
//
//go:embed functions.txt
var functionsTXT string

var functions = sync.OnceValue(func() map[string]bool {
	m := map[string]bool{}
	for name := range strings.Lines(functionsTXT) {
		m[strings.TrimSpace(name)] = true
	}
	return m
})

// tableFunctions may stand after FROM.
func tableFunctions() []string {
	return []string{"unnest", "range", "generate_series", "repeat", "json_each", "json_tree"}
}

// walker reads a parsed statement. Whatever it does not know it refuses.
type walker struct {
	macros map[string]definition
	args   []argument
	use    usage
	wide   bool // It reads samples of any run.
	offset int  // Of the part that is refused, in bytes; -1 where not known.
}

// walk reads one part with the common table expressions in scope, and answers why it is refused, or nothing.
func (w *walker) walk(part any, scope []string, depth int) string {
	if depth > deepest {
		return "it nests too deep to be checked"
	}
	switch p := part.(type) {
	case []any:
		for _, e := range p {
			if why := w.walk(e, scope, depth+1); why != "" {
				return why
			}
		}
	case map[string]any:
		return w.node(p, scope, depth)
	}
	return ""
}

func (w *walker) node(p map[string]any, scope []string, depth int) string {
	if ctes, ok := p["cte_map"].(map[string]any); ok {
		var why string
		if scope, why = w.with(ctes, scope, depth); why != "" {
			return why
		}
	}
	if name, ok := p["cte_name"].(string); ok {
		scope = append(slices.Clip(scope), strings.ToLower(name)) // A recursive one sees itself.
	}
	w.narrow(p, scope)
	skip, why := w.check(p, scope)
	if why != "" {
		w.mark(p)
		return why
	}
	if skip != nil {
		return w.walk(skip, scope, depth+1)
	}
	for _, key := range slices.Sorted(maps.Keys(p)) {
		if key == "cte_map" {
			continue
		}
		if why := w.walk(p[key], scope, depth+1); why != "" {
			return why
		}
	}
	return ""
}

// with reads common table expressions, each of which sees those before it, and gives the scope with all of them.
func (w *walker) with(ctes map[string]any, scope []string, depth int) ([]string, string) {
	scope = slices.Clip(scope)
	entries, _ := ctes["map"].([]any)
	for _, e := range entries {
		entry, _ := e.(map[string]any)
		name, _ := entry["key"].(string)
		if name == "" || strings.ContainsAny(name, "./\\:*?[]'\"") {
			return nil, fmt.Sprintf("%q is no name for a common table expression here", name)
		}
		if why := w.walk(entry["value"], scope, depth+1); why != "" {
			return nil, why
		}
		scope = append(scope, strings.ToLower(name))
	}
	return scope, ""
}

// check judges one part by itself. What it answers as rest is all of it that is left to read; nil: everything.
func (w *walker) check(p map[string]any, scope []string) (rest any, why string) {
	kind, _ := p["type"].(string)
	if class, ok := p["class"].(string); ok {
		return nil, w.expression(class, p)
	}
	switch kind {
	case "":
		return nil, ""
	case "BASE_TABLE":
		return nil, w.table(p, scope)
	case "TABLE_FUNCTION":
		return w.tableFunction(p)
	case "SHOW_REF":
		return nil, w.show(p)
	case "SELECT_NODE", "SET_OPERATION_NODE", "RECURSIVE_CTE_NODE", "CTE_NODE", "SUBQUERY", "JOIN", "EXPRESSION_LIST", "EMPTY", "PIVOT",
		"ORDER_MODIFIER", "LIMIT_MODIFIER", "LIMIT_PERCENT_MODIFIER", "DISTINCT_MODIFIER", "ORDER_DEFAULT", "ASCENDING", "DESCENDING":
		return nil, ""
	}
	if strings.HasSuffix(kind, "_TYPE_INFO") {
		return nil, ""
	}
	return nil, fmt.Sprintf("a part of the kind %s cannot be checked", kind)
}

func (w *walker) expression(class string, p map[string]any) string {
	switch class {
	case "BETWEEN", "CASE", "CAST", "COLLATE", "COLUMN_REF", "COMPARISON", "CONJUNCTION", "CONSTANT", "LAMBDA", "LAMBDA_REF", "OPERATOR",
		"PARAMETER", "POSITIONAL_REFERENCE", "STAR", "SUBQUERY", "TYPE":
		return ""
	case "FUNCTION", "WINDOW":
		return w.function(p)
	}
	return fmt.Sprintf("an expression of the kind %s cannot be checked", class)
}

func (w *walker) function(p map[string]any) string {
	name, _ := p["function_name"].(string)
	if why := unqualified(p, "schema", "catalog", name); why != "" {
		return why
	}
	l := strings.ToLower(name)
	if _, ok := w.macros[l]; ok {
		w.use.macros = append(w.use.macros, l)
	} else if !functions()[l] {
		return fmt.Sprintf("function %s is not among those that queries may use%s", name, w.nearestFunction(l))
	}
	return ""
}

// nearestFunction proposes a macro or function for a misspelt one.
func (w *walker) nearestFunction(name string) string {
	all := slices.Concat(slices.Sorted(maps.Keys(w.macros)), slices.Sorted(maps.Keys(functions())))
	if near := schema.Nearest(name, all); near != "" {
		return fmt.Sprintf("; did you mean %s?", near)
	}
	return "; beside SQL's own there are those that `dynolake channels --macros` lists"
}

func (w *walker) tableFunction(p map[string]any) (rest any, why string) {
	f, _ := p["function"].(map[string]any)
	name, _ := f["function_name"].(string)
	if why := unqualified(f, "schema", "catalog", name); why != "" {
		return nil, why
	}
	if !slices.Contains(tableFunctions(), strings.ToLower(name)) {
		return nil, fmt.Sprintf("table function %s is not among those that queries may use (%s): the lake is read through its views", name, strings.Join(tableFunctions(), ", "))
	}
	return []any{f["children"], p["sample"]}, ""
}

// table admits a view of the session or a common table expression in scope.
func (w *walker) table(p map[string]any, scope []string) string {
	name, _ := p["table_name"].(string)
	if why := unqualified(p, "schema_name", "catalog_name", name); why != "" {
		return why
	}
	if p["at_clause"] != nil {
		return "AT is not for the lake's views: a session sees one snapshot"
	}
	lower := strings.ToLower(name)
	if slices.Contains(scope, lower) {
		return ""
	}
	if slices.Contains(viewNames(), lower) {
		w.read(lower)
		w.wide = w.wide || (lower == samples && p["narrowed"] == nil)
		return ""
	}
	return fmt.Sprintf("there is no view %q: the views are %s", name, strings.Join(viewNames(), ", ")) + nearest(lower)
}

func unqualified(p map[string]any, schema, catalog, name string) string {
	s, _ := p[schema].(string)
	c, _ := p[catalog].(string)
	if c != "" || (s != "" && !strings.EqualFold(s, "main")) {
		return fmt.Sprintf("%s is reached through %q: only the lake's own views and functions may be named, without a schema", name, strings.Trim(c+"."+s, "."))
	}
	return ""
}

// show admits DESCRIBE, SUMMARIZE (both on a query, which is read further) and SHOW TABLES.
func (w *walker) show(p map[string]any) string {
	name, _ := p["table_name"].(string)
	if p["query"] != nil || strings.Trim(name, `"`) == "tables" {
		if p["query"] == nil {
			w.read(viewNames()...)
			w.wide = true
		}
		return unqualified(p, "schema_name", "catalog_name", "SHOW")
	}
	return fmt.Sprintf("SHOW %s tells of the database, not of the lake: SHOW TABLES and DESCRIBE of a view are admitted", strings.Trim(name, `"`))
}

// read notes that views are read.
func (w *walker) read(views ...string) {
	for _, v := range views {
		if !slices.Contains(w.use.views, v) {
			w.use.views = append(w.use.views, v)
		}
	}
}

// mark keeps where a refused part begins.
func (w *walker) mark(p map[string]any) {
	n, _ := p["query_location"].(json.Number)
	if at, err := n.Int64(); err == nil { // A place that is not known is too large for an int64.
		w.offset = int(at)
	}
}

// viewNames lists the views in the order in which they are told.
func viewNames() []string {
	return []string{"runs", "samples", "segments", "curves", "sources", "vehicles", "limits", "unmapped", "findings"}
}

// nearest proposes a view for a misspelt one.
func nearest(name string) string {
	best, least := "", 3
	for _, v := range viewNames() {
		if d := distance(name, v); d < least {
			best, least = v, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %s?", best)
}

// distance counts the letters to insert, drop or replace to make a into b (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
