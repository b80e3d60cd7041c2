package packs

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Param is a parameter of a query as its header declares it.
type Param struct {
	Name    string
	Type    string // number, integer, text, boolean, time, "list of numbers", "list of texts" or "one of A|B|C".
	Default string // As declared; "null" where nothing is asked for.
	Unit    string // "-" where it has none.
	Meaning string

	literal string
}

const oneOf = "one of "

// types names what a header may declare.
func types() []string {
	return []string{"number", "integer", "text", "boolean", "time", "list of numbers", "list of texts", oneOf + "A|B|C"}
}

func knownType(t string) bool {
	if rest, ok := strings.CutPrefix(t, oneOf); ok {
		return !slices.Contains(strings.Split(rest, "|"), "")
	}
	return slices.Contains(types()[:len(types())-1], t)
}

// Literal turns a value as a person types it into an SQL literal of the parameter's type. "null" and nothing at all give NULL,
// save for lists, which are then empty. Elements of a list are separated by commas, with or without brackets around them.
func (p Param) Literal(value string) (string, error) {
	value = strings.TrimSpace(value)
	switch p.Type {
	case "list of numbers":
		return list(value, number)
	case "list of texts":
		return list(value, func(s string) (string, error) { return quote(unquote(s)), nil })
	}
	if value == "" || strings.EqualFold(value, "null") {
		return "NULL", nil
	}
	switch p.Type {
	case "number":
		return number(value)
	case "integer":
		n, err := strconv.ParseInt(value, 10, 64)
		if err != nil {
			return "", fmt.Errorf("found %q, want a whole number", value)
		}
		return strconv.FormatInt(n, 10), nil
	case "boolean":
		return boolean(value)
	case "time":
		return instant(value)
	}
	text := unquote(value)
	if choices, ok := strings.CutPrefix(p.Type, oneOf); ok && !slices.Contains(strings.Split(choices, "|"), text) {
		return "", fmt.Errorf("found %q%s, want one of %s", text, suggest(text, strings.Split(choices, "|")), strings.ReplaceAll(choices, "|", ", "))
	}
	return quote(text), nil
}

func list(value string, element func(string) (string, error)) (string, error) {
	if strings.EqualFold(value, "null") {
		value = ""
	}
	if inner, ok := strings.CutPrefix(value, "["); ok {
		if value, ok = strings.CutSuffix(inner, "]"); !ok {
			return "", fmt.Errorf("found %q: the list's bracket is not closed", "["+inner)
		}
	}
	if value = strings.TrimSpace(value); value == "" {
		return "[]", nil
	}
	parts := split(value)
	for i, s := range parts {
		l, err := element(strings.TrimSpace(s))
		if err != nil {
			return "", fmt.Errorf("element %d: %w", i+1, err)
		}
		parts[i] = l
	}
	return "[" + strings.Join(parts, ", ") + "]", nil
}

// number writes a float so that every engine reads it as one, never as a decimal: with an exponent.
func number(value string) (string, error) {
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return "", fmt.Errorf("found %q, want a number", value)
	}
	s := strconv.FormatFloat(x, 'g', -1, 64)
	if !strings.Contains(s, "e") {
		s += "e0"
	}
	return s, nil
}

// instant writes a time: a day, which begins at midnight UTC, or an instant as RFC 3339 has it.
func instant(value string) (string, error) {
	for _, form := range []string{time.DateOnly, time.RFC3339} {
		if t, err := time.Parse(form, unquote(value)); err == nil {
			return "instant(" + quote(t.UTC().Format(time.RFC3339Nano)) + ")", nil
		}
	}
	return "", fmt.Errorf("found %q, want a day such as 2026-03-31 or a time such as 2026-03-31T08:30:00Z", value)
}

func boolean(value string) (string, error) {
	switch strings.ToLower(value) {
	case "true", "yes", "1":
		return "true", nil
	case "false", "no", "0":
		return "false", nil
	}
	return "", fmt.Errorf("found %q, want true or false", value)
}

// quote writes a text literal.
func quote(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// unquote drops the double quotes around a text, if there are any.
func unquote(s string) string {
	if len(s) > 1 && s[0] == '"' && s[len(s)-1] == '"' {
		return s[1 : len(s)-1]
	}
	return s
}

// split cuts at commas that stand outside brackets and double quotes.
func split(s string) []string {
	var parts []string
	depth, start, quoted := 0, 0, false
	for i := range len(s) {
		switch c := s[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '[':
			depth++
		case c == ']':
			depth--
		case c == ',' && depth <= 0:
			parts = append(parts, s[start:i])
			start = i + 1
		}
	}
	return append(parts, s[start:])
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
