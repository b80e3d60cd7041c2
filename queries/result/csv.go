package result

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// writeCSV prints a header and a line a row as RFC 4180 has them, lines ending in LF. NULL is an empty cell, the empty text
// is "". Numbers and times are exact; texts are inert. What must have every text byte for byte is JSON or Parquet.
func writeCSV(ctx context.Context, w io.Writer, rows *Rows) error {
	var line []byte
	for i, name := range rows.Names() {
		line = appendCell(comma(line, i), name)
	}
	if _, err := w.Write(append(line, '\n')); err != nil {
		return fmt.Errorf("write rows as csv: %w", err)
	}
	err := each(ctx, rows, func(row []any) error {
		line = line[:0]
		for i, v := range row {
			line = appendCSV(comma(line, i), v)
		}
		if len(line) == 0 {
			line = append(line, '"', '"') // An empty line would be taken for none.
		}
		_, err := w.Write(append(line, '\n'))
		return err
	})
	if err != nil {
		return fmt.Errorf("write rows as csv: %w", err)
	}
	return nil
}

func comma(line []byte, i int) []byte {
	if i > 0 {
		return append(line, ',')
	}
	return line
}

func appendCSV(b []byte, v any) []byte {
	switch v := v.(type) {
	case string:
		return appendCell(b, v)
	case []any, map[string]any:
		return appendCell(b, string(appendJSON(nil, v)))
	case []byte:
		return append(b, strings.Trim(string(appendJSON(nil, v)), `"`)...)
	case time.Time:
		return v.UTC().AppendFormat(b, time.RFC3339Nano)
	case Day:
		return append(b, v.String()...)
	}
	n := len(b)
	if b = appendJSON(b, v); string(b[n:]) == "null" {
		return b[:n]
	}
	return b
}

func appendCell(b []byte, s string) []byte {
	if isWord(s) {
		return append(b, s...)
	}
	s = inert(s)
	if s != "" && !strings.ContainsAny(s, "\",\r\n") && s[0] != ' ' && s[len(s)-1] != ' ' {
		return append(b, s...)
	}
	return append(append(append(b, '"'), strings.ReplaceAll(s, `"`, `""`)...), '"')
}

// isWord reports whether a text is of ASCII's letters, digits and a few signs that nothing in a cell obeys: most are, and need no closer look.
func isWord(s string) bool {
	for i := range len(s) {
		switch c := s[i]; {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', i > 0 && (c == '-' || c == '_' || c == '.' || c == '/'):
		default:
			return false
		}
	}
	return s != ""
}

// inert makes a text harmless where CSV is opened: a spreadsheet would reckon what begins like a formula, so that an apostrophe
// goes before it, and a terminal would obey control characters, which become visible signs. A text that is a number, or of signs
// alone as recorders write for no value, is left as it is, and so are line ends and tabs within a text.
func inert(s string) string {
	lead := strings.TrimLeft(s, " \t\r\n")
	if lead != "" && strings.ContainsRune("=+-@\uff1d\uff0b\uff0d\uff20", first(lead)) && strings.Trim(s, "=+-@ ") != "" && !isNumber(lead) {
		s = "'" + s
	}
	clean := func(r rune) bool { return r == '\n' || r == '\t' || r == '\r' || obeyed(r) == r }
	if utf8.ValidString(s) && strings.IndexFunc(s, func(r rune) bool { return !clean(r) }) < 0 {
		return s
	}
	return strings.Map(func(r rune) rune {
		if clean(r) {
			return r
		}
		return obeyed(r)
	}, s)
}

func first(s string) rune {
	r, _ := utf8.DecodeRuneInString(s)
	return r
}

func isNumber(s string) bool {
	_, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	return err == nil
}

// Plain gives a value as CSV prints it, without quotes.
func Plain(v any) string {
	if s, ok := v.(string); ok {
		return s
	}
	return strings.Trim(string(appendCSV(nil, v)), `"`)
}
