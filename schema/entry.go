package schema

import (
	"fmt"
	"strconv"
	"strings"
)

// The embedded files are written in a small part of YAML, which is read here: a program that starts for one question has no
// time for all of YAML. A list's entries stand one a line, as - {key: value, key: [value, value]}; a list stands under its
// name at the line's beginning, or in an entry of its own with what is said of it. Texts that hold , : # or a bracket are in
// double quotes. Whatever else is found is an error.

// section is a list with what is said of it.
type section struct {
	name    string
	said    map[string]string
	entries []entry
}

// entry is one {…}, by key: a value, or a list of them.
type entry map[string][]string

// sections reads a file.
func sections(text string) ([]section, error) {
	list := []section{{}}
	number := 0
	for line := range strings.Lines(text) {
		number++
		line = strings.TrimRight(line, "\n")
		bare := strings.TrimLeft(line, " ")
		last := &list[len(list)-1]
		switch {
		case bare == "" || bare[0] == '#':
		case strings.HasPrefix(bare, "- {"):
			e, err := flow(bare[2:])
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", number, err)
			}
			last.entries = append(last.entries, e)
		default:
			name, rest, ok := strings.Cut(strings.TrimPrefix(bare, "- "), ":")
			value, behind, err := scalar(strings.TrimLeft(rest, " "), "")
			if !ok || err != nil || behind != "" {
				return nil, fmt.Errorf("line %d: found %q: want name: value, or an entry - {…}", number, line)
			}
			if bare == line || bare[0] == '-' { // At the line's beginning, or an entry of its own.
				list = append(list, section{name: name, said: map[string]string{}})
				last = &list[len(list)-1]
			}
			if last.said == nil {
				return nil, fmt.Errorf("line %d: found %q before any list", number, line)
			}
			last.said[name] = value
		}
	}
	return list, nil
}

// flow reads one {…}.
func flow(text string) (entry, error) {
	e := entry{}
	rest := strings.TrimPrefix(text, "{")
	for {
		key, behind, ok := strings.Cut(rest, ": ")
		if _, twice := e[key]; twice || !ok || strings.ContainsAny(key, "{}[],\"'#") {
			return nil, fmt.Errorf("found %q: want a new key, a colon and a blank", rest)
		}
		values, behind, err := values(behind)
		if err != nil {
			return nil, err
		}
		e[key] = values
		if behind == "}" {
			return e, nil
		}
		if rest, ok = strings.CutPrefix(behind, ", "); !ok {
			return nil, fmt.Errorf("found %q behind %s: want a comma and a blank, or } at the end", behind, key)
		}
	}
}

// values reads one value, or [value, value], and gives what stands behind it.
func values(text string) (list []string, behind string, err error) {
	rest, many := strings.CutPrefix(text, "[")
	for {
		value, behind, err := scalar(rest, ",]}")
		list = append(list, value)
		if err != nil || !many {
			return list, behind, err
		}
		if behind, ok := strings.CutPrefix(behind, "]"); ok {
			return list, behind, nil
		}
		var ok bool
		if rest, ok = strings.CutPrefix(behind, ", "); !ok {
			return nil, "", fmt.Errorf("found %q: want a comma and a blank, or ]", behind)
		}
	}
}

// scalar reads a text up to one of the marks that end it, or in double quotes.
func scalar(text, ends string) (value, behind string, err error) {
	if strings.HasPrefix(text, `"`) {
		quoted, err := strconv.QuotedPrefix(text)
		if err != nil {
			return "", "", fmt.Errorf("found %q: want a quote at its end", text)
		}
		value, err = strconv.Unquote(quoted)
		return value, text[len(quoted):], err
	}
	end := strings.IndexAny(text, ends)
	if ends == "" || end < 0 {
		end = len(text)
	}
	value = text[:end]
	if strings.ContainsAny(value, "{}[]\"") || strings.Contains(value, ": ") || strings.Contains(value, " #") || strings.TrimSpace(value) != value || strings.HasPrefix(value, "'") {
		return "", "", fmt.Errorf("found %q: want it in double quotes", value)
	}
	return value, text[end:], nil
}
