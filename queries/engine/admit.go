package engine

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// longest is how many bytes a statement may have; deepest how deep its parentheses and operators may nest.
const (
	longest = 1 << 20
	deepest = 2000
)

// Refused is a statement that is not admitted, with the place where it is known.
type Refused struct {
	Why          string
	Line, Column int // From 1, 0 where not known.
}

// Error writes line:column and why.
func (r *Refused) Error() string {
	place := ""
	if r.Line > 0 {
		place = fmt.Sprintf("%d:%d: ", r.Line, r.Column)
	}
	return place + "refuse the statement: " + r.Why
}

// admit reads the statement as the database parses it, and tells what it will read when it may run.
func (c *connection) admit(ctx context.Context, statement string, macros map[string]definition, args []argument) (usage, error) {
	if len(statement) > longest {
		return usage{}, &Refused{Why: fmt.Sprintf("it has %d bytes, more than the %d that are read", len(statement), longest)}
	}
	if strings.ContainsRune(statement, 0) || !utf8.ValidString(statement) {
		return usage{}, &Refused{Why: "it is no UTF-8 text, or holds a NUL"}
	}
	body := withoutExplain(statement)
	tree, err := c.parse(ctx, body)
	if err != nil {
		return usage{}, err
	}
	if tree.Error {
		return usage{}, tree.refusal(statement, body)
	}
	if n := len(tree.Statements); n != 1 {
		return usage{}, &Refused{Why: fmt.Sprintf("it holds %d statements, want one SELECT", n)}
	}
	var node any
	d := json.NewDecoder(bytes.NewReader(tree.Statements[0]))
	d.UseNumber()
	if err := d.Decode(&node); err != nil {
		return usage{}, fmt.Errorf("read the parsed statement: %w", err)
	}
	w := walker{macros: macros, args: args, offset: -1}
	if why := w.walk(node, nil, 0); why != "" {
		r := &Refused{Why: why}
		if w.offset >= 0 && w.offset <= len(statement) {
			r.Line, r.Column = place(statement, w.offset)
		}
		return usage{}, r
	}
	if w.wide {
		w.use.runs = nil
	}
	w.use.columns = namingOf(node)
	return w.use, nil
}

// parsed is what the database answers to json_serialize_sql.
type parsed struct {
	Error      bool              `json:"error"`
	Type       string            `json:"error_type"`
	Message    string            `json:"error_message"`
	Position   json.Number       `json:"position"`
	Statements []json.RawMessage `json:"statements"`
}

func (c *connection) parse(ctx context.Context, body string) (parsed, error) {
	var p parsed
	found, err := c.collect(ctx, "SELECT CAST(json_serialize_sql(CAST($1 AS VARCHAR)) AS VARCHAR)", body)
	if err != nil {
		return p, err
	}
	answer, _ := found[0][0].(string)
	if err := json.Unmarshal([]byte(answer), &p); err != nil {
		return p, fmt.Errorf("read the parsed statement: %w", err)
	}
	return p, nil
}

// refusal tells a fault of syntax from a statement of another kind.
func (p parsed) refusal(statement, body string) error {
	if p.Type == "parser" {
		f := &Fault{Kind: "Parser", Message: p.Message}
		if at, err := p.Position.Int64(); err == nil {
			f.Line, f.Column = place(statement, int(at))
			before := strings.ToLower(strings.TrimRight(statement[:min(int(at), len(statement))], " \t\r\n"))
			if there, _ := word(statement, min(int(at), len(statement))); strings.HasSuffix(before, " at") || strings.EqualFold(there, "at") {
				f.Message += `; at is a word of SQL: write "at"`
			}
		}
		return f
	}
	first, at := word(body, 0)
	r := &Refused{Why: fmt.Sprintf("%s is not read-only SQL that can be checked: one SELECT (WITH, FROM, VALUES, DESCRIBE, SUMMARIZE, SHOW TABLES) or EXPLAIN of it is admitted", strings.ToUpper(first))}
	if strings.EqualFold(first, "pivot") {
		r.Why = "PIVOT needs its values named to be checked: PIVOT … ON column IN (a, b) USING …"
	}
	r.Line, r.Column = place(statement, at)
	return r
}

// withoutExplain blanks a leading EXPLAIN and its options, so that offsets stay what they are.
func withoutExplain(s string) string {
	first, at := word(s, 0)
	if !strings.EqualFold(first, "explain") {
		return s
	}
	end := at + len(first)
	if next, at := word(s, end); strings.EqualFold(next, "analyze") {
		end = at + len(next)
	}
	if open := skip(s, end); open < len(s) && s[open] == '(' {
		inner, _ := word(s, open+1)
		closing := strings.IndexByte(s[open:], ')')
		if closing > 0 && slices.ContainsFunc([]string{"analyze", "format"}, func(o string) bool { return strings.EqualFold(o, inner) }) {
			end = open + closing + 1
		}
	}
	return strings.Repeat(" ", end) + s[end:]
}

// word reads the letters that follow blanks and comments, and where they begin.
func word(s string, from int) (string, int) {
	at := skip(s, from)
	end := at
	for end < len(s) && (s[end] == '_' || s[end]|0x20 >= 'a' && s[end]|0x20 <= 'z') {
		end++
	}
	return s[at:end], at
}

// skip passes over blanks, comments and opening semicolons.
func skip(s string, at int) int {
	for at < len(s) {
		rest := s[at:]
		switch {
		case strings.ContainsRune(" \t\r\n\f\v;", rune(s[at])):
			at++
		case strings.HasPrefix(rest, "--"):
			end := strings.IndexByte(rest, '\n')
			if end < 0 {
				return len(s)
			}
			at += end + 1
		case strings.HasPrefix(rest, "/*"):
			end := strings.Index(rest, "*/")
			if end < 0 {
				return len(s)
			}
			at += end + 2
		default:
			return at
		}
	}
	return at
}
