package result

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"
)

// writeJSON prints one array of objects, an object a line, its keys in the columns' order.
func writeJSON(ctx context.Context, w io.Writer, rows *Rows) error {
	keys := make([][]byte, len(rows.columns))
	for i, c := range distinct(rows.Names()) {
		keys[i] = append(appendText(nil, c), ':')
	}
	var line []byte
	n := 0
	err := each(ctx, rows, func(row []any) error {
		line = append(line[:0], separator(n)...)
		n++
		line = append(line, '{')
		for i, v := range row {
			if i > 0 {
				line = append(line, ',')
			}
			line = append(line, keys[i]...)
			if rows.columns[i].Kind == Nested && v != nil {
				v = string(appendJSON(nil, v)) // Objects are flat: a list is told as its text.
			}
			line = appendJSON(line, v)
		}
		_, err := w.Write(append(line, '}'))
		return err
	})
	if err != nil {
		return fmt.Errorf("write rows as json: %w", err)
	}
	end := "\n]\n"
	if n == 0 {
		end = "[]\n"
	}
	if _, err := io.WriteString(w, end); err != nil {
		return fmt.Errorf("write rows as json: %w", err)
	}
	return nil
}

func separator(n int) string {
	if n == 0 {
		return "[\n"
	}
	return ",\n"
}

// distinct makes names unique, as an object needs them: the second n becomes n_2.
func distinct(names []string) []string {
	names = slices.Clone(names)
	seen := map[string]bool{}
	for i, n := range names {
		for k := 2; seen[names[i]]; k++ {
			names[i] = fmt.Sprintf("%s_%d", n, k)
		}
		seen[names[i]] = true
	}
	return names
}

// appendJSON writes a value; what is no number becomes null, times are RFC 3339 in UTC.
func appendJSON(b []byte, v any) []byte {
	switch v := v.(type) {
	case nil:
		return append(b, "null"...)
	case bool:
		return strconv.AppendBool(b, v)
	case int64:
		return strconv.AppendInt(b, v, 10)
	case float32:
		return appendFloat(b, float64(v), 32)
	case float64:
		return appendFloat(b, v, 64)
	case *big.Int:
		return v.Append(b, 10)
	case Fixed:
		return append(b, v.String()...)
	case string:
		return appendText(b, v)
	case time.Time:
		return append(v.UTC().AppendFormat(append(b, '"'), time.RFC3339Nano), '"')
	case Day:
		return append(append(append(b, '"'), v.String()...), '"')
	case []any:
		b = append(b, '[')
		for i, e := range v {
			if i > 0 {
				b = append(b, ',')
			}
			b = appendJSON(b, e)
		}
		return append(b, ']')
	case map[string]any:
		return appendObject(b, v)
	case []byte:
		t, _ := json.Marshal(v) // Base64; bytes always marshal.
		return append(b, t...)
	}
	return appendText(b, fmt.Sprint(v))
}

func appendObject(b []byte, m map[string]any) []byte {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	b = append(b, '{')
	for i, k := range keys {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendJSON(append(appendText(b, k), ':'), m[k])
	}
	return append(b, '}')
}

func appendFloat(b []byte, x float64, bits int) []byte {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return append(b, "null"...)
	}
	return appendNumber(b, x, bits)
}

// appendNumber writes the shortest text that reads back as the same float of that many bits, without an exponent where the
// number is of a common size.
func appendNumber(b []byte, x float64, bits int) []byte {
	if x == 0 {
		return append(b, '0') // Minus zero would be read as another number.
	}
	if a := math.Abs(x); a < 1e-6 || a >= 1e21 {
		return strconv.AppendFloat(b, x, 'e', -1, bits)
	}
	return strconv.AppendFloat(b, x, 'f', -1, bits)
}

func appendText(b []byte, s string) []byte {
	if !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r > '~' || r == '"' || r == '\\' }) {
		return append(append(append(b, '"'), s...), '"')
	}
	var buf bytes.Buffer
	e := json.NewEncoder(&buf)
	e.SetEscapeHTML(false)
	_ = e.Encode(s) // A string always encodes; bytes that are no UTF-8 become U+FFFD.
	return append(b, bytes.TrimSuffix(buf.Bytes(), []byte("\n"))...)
}
