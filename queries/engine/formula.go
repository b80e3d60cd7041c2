package engine

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// formulaWalker reads the parsed form of a user column's formula. Whatever it does not know it refuses.
type formulaWalker struct {
	macros map[string]definition
	refs   []reference
	where  reference // Of what is refused.
}

// statement holds that the parsed text is one bare SELECT of one expression.
func (e *formulaWalker) statement(node map[string]any) string {
	e.where.at = -1
	const want = "the formula is more than one expression: want one, without FROM, WHERE or a comma outside brackets"
	for key, value := range node {
		switch v := value.(type) {
		case []any:
			if key != "select_list" && len(v) > 0 {
				return want
			}
		case map[string]any:
			inner, _ := v["map"].([]any)
			if bare := key == "from_table" && v["type"] == "EMPTY" || key == "cte_map" && len(inner) == 0; !bare {
				return want
			}
		case nil:
		default:
			if key != "type" && key != "aggregate_handling" {
				return want
			}
		}
	}
	selected, _ := node["select_list"].([]any)
	if node["type"] != "SELECT_NODE" || len(selected) != 1 || node["aggregate_handling"] != "STANDARD_HANDLING" {
		return want
	}
	return e.walk(selected[0], 0)
}

func (e *formulaWalker) walk(part any, depth int) string {
	if depth > deepest {
		return "the formula nests too deep to be checked"
	}
	switch p := part.(type) {
	case []any:
		for _, child := range p {
			if why := e.walk(child, depth+1); why != "" {
				return why
			}
		}
	case map[string]any:
		if class, ok := p["class"].(string); ok {
			if why := e.expression(class, p); why != "" {
				e.where.at = offset(p)
				return why
			}
		}
		for _, key := range slices.Sorted(maps.Keys(p)) {
			if why := e.walk(p[key], depth+1); why != "" {
				return why
			}
		}
	}
	return ""
}

func (e *formulaWalker) expression(class string, p map[string]any) string {
	switch class {
	case "BETWEEN", "CASE", "CAST", "COMPARISON", "CONJUNCTION", "CONSTANT", "OPERATOR":
		return ""
	case "COLUMN_REF":
		names, _ := p["column_names"].([]any)
		name, _ := names[0].(string)
		if len(names) != 1 {
			return "a column is named by its own name alone, without a view's before it"
		}
		e.refs = append(e.refs, reference{strings.ToLower(name), offset(p)})
		return ""
	case "FUNCTION":
		name, _ := p["function_name"].(string)
		if why := unqualified(p, "schema", "catalog", name); why != "" {
			return why
		}
		l := strings.ToLower(name)
		_, macro := e.macros[l]
		if !functions()[l] && !macro || slices.Contains(notInFormulas(), l) {
			return fmt.Sprintf("function %s is not among those that a formula may use", name)
		}
		return ""
	}
	return fmt.Sprintf("a formula may hold no %s: it computes a value from the row's other values", strings.ToLower(class))
}

// notInFormulas are functions that give several rows, or another value each time.
func notInFormulas() []string {
	return []string{"unnest", "each_of", "random", "setseed", "uuid", "uuidv4", "uuidv7", "gen_random_uuid", "now", "today", "current_date", "current_time", "current_timestamp",
		"get_current_timestamp", "get_current_time", "transaction_timestamp", "localtime", "localtimestamp", "current_localtime", "current_localtimestamp", "age", "ago", "grouping", "generate_subscripts"}
}

// offset is where a part begins in the formula, in bytes; -1 where not known.
func offset(p map[string]any) int {
	n, _ := p["query_location"].(json.Number)
	at, err := n.Int64()
	if err != nil || at < int64(len(selecting)) {
		return -1
	}
	return int(at) - len(selecting)
}
