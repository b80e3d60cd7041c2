package engine

import (
	"maps"
	"slices"
	"strings"
	"unicode"

	"dynolake/schema"
)

// A view over files is bound with all the columns that it is given, and each file is matched to them, even where a statement wants one of a hundred. So
// a statement that names its columns gets views of those alone. Which they are is judged on the safe side: whatever text stands
// anywhere in the parsed statement may be a column's name.

// naming is what a parsed statement says of columns.
type naming struct {
	words map[string]bool // All texts in it, in small letters.
	whole map[string]bool // Views of which it may mean columns that it does not name.
	any   bool            // It may do so of all views.

	tables, lone map[string]bool // What stands after FROM; columns named without what they are of.
}

// namingOf reads a parsed statement.
func namingOf(node any) naming {
	n := naming{words: map[string]bool{}, whole: map[string]bool{}, tables: map[string]bool{}, lone: map[string]bool{}}
	n.walk(node, nil)
	for name := range n.tables { // A view's name alone stands for a row of all its columns.
		n.any = n.any || n.lone[name]
	}
	return n
}

// walk reads a part of a SELECT from the given tables.
func (n *naming) walk(part any, from []string) {
	switch p := part.(type) {
	case string:
		n.words[strings.ToLower(p)] = true
	case []any:
		for _, e := range p {
			n.walk(e, from)
		}
	case map[string]any:
		if p["type"] == "SELECT_NODE" {
			from = direct(p["from_table"])
		}
		n.note(p, from)
		for _, e := range p {
			n.walk(e, from)
		}
	}
}

// note looks for what means columns without naming them.
func (n *naming) note(p map[string]any, from []string) {
	switch p["type"] {
	case "STAR", "POSITIONAL_REFERENCE":
		n.wholly(from)
	case "COLUMN_REF":
		if names, _ := p["column_names"].([]any); len(names) == 1 {
			name, _ := names[0].(string)
			n.lone[strings.ToLower(name)] = true
		}
	case "PIVOT":
		n.wholly(direct(p))
	case "JOIN":
		if p["ref_type"] == "NATURAL" {
			n.wholly(direct(p))
		}
	case "SHOW_REF":
		n.any = true
	case "BASE_TABLE":
		if names, _ := p["column_name_alias"].([]any); len(names) > 0 { // They are given by place.
			n.wholly(direct(p))
		}
	}
	if _, after := p["sample"]; after { // What stands after FROM can be sampled.
		for _, key := range []string{"alias", "table_name"} {
			name, _ := p[key].(string)
			n.tables[strings.ToLower(name)] = true
		}
	}
}

func (n *naming) wholly(from []string) {
	for _, name := range from {
		n.whole[name] = true
	}
}

// direct lists the tables that a part after FROM has the columns of.
func direct(part any) []string {
	p, _ := part.(map[string]any)
	switch p["type"] {
	case "BASE_TABLE":
		name, _ := p["table_name"].(string)
		return []string{strings.ToLower(name)}
	case "JOIN":
		return append(direct(p["left"]), direct(p["right"])...)
	case "PIVOT":
		return direct(p["source"])
	}
	return nil
}

// of gives a table with those of its columns alone that may be named, and the user's own among them. Those that tell what belongs to a part of the
// vehicles stay.
func (n naming) of(t schema.Table, own []UserColumn) (schema.Table, []UserColumn) {
	if n.any || n.whole[t.Name] || slices.ContainsFunc(t.Columns, func(c schema.Column) bool { return strings.HasPrefix(c.Type, "list_") }) { // Any list may be the longest of its row's.
		return t, own
	}
	words := maps.Clone(n.words)
	words["run_id"], words["vehicle"] = true, true
	var kept []UserColumn
	for _, u := range slices.Backward(own) { // Each may stand on those before it.
		if words[u.Name] {
			kept = append(kept, u)
			for _, word := range strings.FieldsFunc(u.Formula, notOfWords) {
				words[strings.ToLower(word)] = true
			}
		}
	}
	slices.Reverse(kept)
	all := t.Columns
	t.Columns = nil
	for _, c := range all {
		if words[c.Name] {
			t.Columns = append(t.Columns, c)
		}
	}
	return t, kept
}

// ReadsOnce judges, on the safe side, that a statement reads none of the views twice.
func ReadsOnce(statement string) bool {
	seen := map[string]bool{}
	for _, word := range strings.FieldsFunc(strings.ToLower(statement), notOfWords) {
		if seen[word] {
			return false
		}
		seen[word] = slices.Contains(viewNames(), word)
	}
	return true
}

// notOfWords tells what stands between words.
func notOfWords(r rune) bool { return r != '_' && !unicode.IsLetter(r) && !unicode.IsDigit(r) }
