package packs

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"dynolake/queries/result"
)

// table is a CSV file of a case. An empty cell is NULL.
type table struct {
	file    string
	columns []string
	rows    [][]string
	places  [][][2]int // Line and column of each cell; the names' first.
}

// readTable reads a CSV file whose first row names the columns.
func readTable(files fs.FS, name, shown string) (table, error) {
	t := table{file: shown}
	text, err := fs.ReadFile(files, name)
	if err != nil {
		return t, fmt.Errorf("%s: read rows: %w", shown, err)
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff"))))
	r.Comment = '#'
	for {
		row, err := r.Read()
		if err != nil {
			var at *csv.ParseError
			if errors.As(err, &at) {
				return t, fault{shown, at.Line, at.Column, at.Err.Error()}
			}
			break // The end: a reader of bytes has no other error.
		}
		places := make([][2]int, len(row))
		for i := range row {
			places[i][0], places[i][1] = r.FieldPos(i)
			row[i] = strings.TrimSpace(row[i])
		}
		t.places = append(t.places, places)
		if t.columns == nil {
			t.columns = row
		} else {
			t.rows = append(t.rows, row)
		}
	}
	if t.columns == nil {
		return t, fault{shown, 1, 1, "the file is empty: want a row of column names"}
	}
	return t, nil
}

// place is the column of a cell in its line; row 0 is that of the names.
func (t table) place(row, column int) int { return t.places[row][column][1] }

// values gives the rows for the database, which reads each text as its column's type.
func (t table) values() [][]any {
	all := make([][]any, len(t.rows))
	for i, row := range t.rows {
		all[i] = make([]any, len(row))
		for j, cell := range row {
			if cell != "" {
				all[i][j] = cell
			}
		}
	}
	return all
}

const mostShown = 20

// compare tells where rows differ from those expected. Columns that the file does not name are not compared.
func (t table) compare(columns []string, rows [][]any, tolerance map[string]string) []string {
	var fails []string
	for _, c := range sortedKeys(tolerance) {
		if !slices.Contains(t.columns, c) {
			fails = append(fails, fmt.Sprintf("%s: tolerance of %q, which is no column of the file%s", t.file, c, suggest(c, t.columns)))
		}
	}
	for i, c := range t.columns {
		if !slices.Contains(columns, c) {
			fails = append(fails, fault{t.file, 1, t.place(0, i), fmt.Sprintf("the answer has no column %q%s", c, suggest(c, columns))}.Error())
		}
	}
	if len(fails) > 0 {
		return fails
	}
	for i := range min(len(rows), len(t.rows)) {
		for j, c := range t.columns {
			got := rows[i][slices.Index(columns, c)]
			if text := differs(got, t.rows[i][j], tolerance[c]); text != "" {
				at := t.places[i+1][j]
				fails = append(fails, fault{t.file, at[0], at[1], c + ": " + text}.Error())
			}
		}
	}
	if n := len(fails); n > mostShown {
		fails = append(fails[:mostShown], fmt.Sprintf("%s: and %d more cells differ", t.file, n-mostShown))
	}
	if len(rows) != len(t.rows) {
		fails = append(fails, fmt.Sprintf("%s: got %d rows, want %d", t.file, len(rows), len(t.rows)))
		if len(rows) > len(t.rows) {
			fails = append(fails, fmt.Sprintf("%s: the first that is not expected is %s", t.file, show(columns, rows[len(t.rows)])))
		}
	}
	return fails
}

// differs says how a value differs from the text expected, or nothing.
func differs(got any, want, tolerance string) string {
	if got == nil || want == "" {
		if got == nil && want == "" {
			return ""
		}
		return fmt.Sprintf("got %s, want %s", plain(got), null(want))
	}
	x, isNumber := float(got)
	y, err := strconv.ParseFloat(want, 64)
	if !isNumber || err != nil {
		if tolerance != "" || plain(got) != want {
			return fmt.Sprintf("got %s, want %s", plain(got), want)
		}
		return ""
	}
	allowed, err := allowance(tolerance, y)
	if err != nil {
		return err.Error()
	}
	if math.Abs(x-y) <= allowed { // False for NaN.
		return ""
	}
	text := fmt.Sprintf("got %s, want %s", plain(got), want)
	if tolerance != "" {
		text += " within " + tolerance
	}
	return text
}

// allowance reads a tolerance: an amount, or a percentage of the value expected. Without one, what binary fractions need.
func allowance(tolerance string, want float64) (float64, error) {
	if tolerance == "" {
		return 1e-9 * math.Max(1, math.Abs(want)), nil
	}
	share, percent := strings.CutSuffix(strings.TrimSpace(tolerance), "%")
	x, err := strconv.ParseFloat(strings.TrimSpace(share), 64)
	if err != nil || !(x >= 0) {
		return 0, fmt.Errorf("read tolerance %q: want an amount or a percentage, such as 0.5 or 2%%", tolerance)
	}
	if percent {
		return x / 100 * math.Abs(want), nil
	}
	return x, nil
}

func float(v any) (float64, bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float32:
		return float64(v), true
	case float64:
		return v, true
	case result.Fixed:
		return v.Float64(), true
	}
	return 0, false
}

// plain writes a value as cases and parameters have it.
func plain(v any) string {
	switch v := v.(type) {
	case nil:
		return "NULL"
	case float32:
		return strconv.FormatFloat(float64(v), 'g', -1, 32)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case time.Time:
		return v.UTC().Format(time.RFC3339Nano)
	case []any:
		parts := make([]string, len(v))
		for i, e := range v {
			parts[i] = plain(e)
		}
		return strings.Join(parts, ",")
	}
	return fmt.Sprint(v)
}

func null(want string) string {
	if want == "" {
		return "NULL"
	}
	return want
}

func show(columns []string, row []any) string {
	parts := make([]string, len(row))
	for i, v := range row {
		parts[i] = columns[i] + "=" + plain(v)
	}
	return strings.Join(parts, " ")
}
