package result

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"
)

// writeCSV prints a header and a line a row as RFC 4180 has them, lines ending in LF. NULL is an empty cell, the empty text
// is "". Cells are exact: a text that begins with = or @ is left as it is, for a program to read.
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
	if s != "" && !strings.ContainsAny(s, "\",\r\n") && s[0] != ' ' && s[len(s)-1] != ' ' {
		return append(b, s...)
	}
	return append(append(append(b, '"'), strings.ReplaceAll(s, `"`, `""`)...), '"')
}

// Plain gives a value as CSV prints it, without quotes.
func Plain(v any) string {
	if s, ok := v.(string); ok {
		return s
	}
	return strings.Trim(string(appendCSV(nil, v)), `"`)
}
