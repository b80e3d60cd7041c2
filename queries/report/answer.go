package report

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// answer is a query's rows, read by column.
type answer struct {
	pack    *packs.Pack
	command string // The command line that gives the same.
	units   result.Units
	columns []result.Column
	at      map[string]int
	rows    []row
	sorted  map[string]map[string][]row // By column and value, for columns that of was asked for first.
}

// row is one row of an answer.
type row struct {
	a      *answer
	values []any
}

// ask runs a pack's query, once for all platforms. It is nil, without an error, where there is no such query.
func (w *writer) ask(ctx context.Context, name string) (*answer, error) {
	command := "dynolake query " + name
	if a, ok := w.asked[command]; ok {
		return a, nil
	}
	if !w.in.Packs.Has(name) {
		return nil, nil
	}
	pack, err := w.in.Packs.Pack(name)
	if err != nil {
		return nil, err
	}
	statement, err := pack.SQL(nil)
	if err != nil {
		return nil, err
	}
	rows, err := w.rows(ctx, pack, statement)
	if err != nil {
		return nil, fmt.Errorf("ask %s: %w", name, err)
	}
	a, err := w.answer(rows)
	if err != nil {
		return nil, fmt.Errorf("ask %s: %w", name, err)
	}
	a.pack, a.command = pack, command
	if w.in.Units == result.US {
		a.command += " --units us"
	}
	w.asked[command] = a
	return a, nil
}

// rows answers a pack's statement, from what is kept where it can be.
func (w *writer) rows(ctx context.Context, p *packs.Pack, statement string) (*result.Rows, error) {
	if w.in.Kept != nil {
		if rows, ok := w.in.Kept(ctx, p, statement); ok {
			return rows, nil
		}
	}
	return w.in.Session.Query(ctx, statement)
}

// askOf is ask for one platform: the rows that the query gives with the parameter platform.
func (w *writer) askOf(ctx context.Context, platform, name string) (*answer, error) {
	a, err := w.ask(ctx, name)
	if a == nil || err != nil {
		return nil, err
	}
	part := *a
	part.command, part.rows, part.sorted = with(a.command, "platform", platform), nil, nil
	for _, r := range a.of("platform", platform) {
		part.rows = append(part.rows, row{&part, r.values})
	}
	return &part, nil
}

// sql runs a statement of the report's own.
func (w *writer) sql(ctx context.Context, statement string) (*answer, error) {
	rows, err := w.in.Session.Query(ctx, statement)
	if err != nil {
		return nil, fmt.Errorf("ask for the report: %w", err)
	}
	a, err := w.answer(rows)
	if err != nil {
		return nil, fmt.Errorf("ask for the report: %w", err)
	}
	a.command = "dynolake query --sql " + quote(strings.Join(strings.Fields(statement), " "))
	return a, nil
}

func (w *writer) answer(rows *result.Rows) (*answer, error) {
	a := &answer{units: w.in.Units, columns: rows.Columns(), at: map[string]int{}}
	for i, c := range a.columns {
		a.at[c.Name] = i
	}
	all, err := rows.All()
	for _, v := range all {
		a.rows = append(a.rows, row{a, v})
	}
	return a, err
}

// quote makes a word safe for a shell.
func quote(s string) string {
	plain := s != "" && strings.Trim(s, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_=./,:+@") == ""
	if plain {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

func (r row) value(column string) any {
	i, ok := r.a.at[column]
	if !ok {
		return nil
	}
	return r.values[i]
}

// has is whether there is a value in the column.
func (r row) has(column string) bool { return r.value(column) != nil }

// text is a value as a text, empty for none.
func (r row) text(column string) string {
	v := r.value(column)
	if v == nil {
		return ""
	}
	if t, ok := v.(time.Time); ok {
		return t.UTC().Format("2006-01-02 15:04")
	}
	return result.Harmless(result.Plain(v))
}

// number is a value in the stored unit; ok is false for none.
func (r row) number(column string) (x float64, ok bool) {
	switch v := r.value(column).(type) {
	case float64:
		return v, true
	case float32:
		return float64(v), true
	case int64:
		return float64(v), true
	case result.Fixed:
		return v.Float64(), true
	}
	return 0, false
}

func (a *answer) measure(column string) result.Measure {
	var declared map[string]string
	if a.pack != nil {
		declared = a.pack.Units()
	}
	return result.MeasureOf(a.columns[a.at[column]], result.Options{Units: a.units, Declared: declared})
}

// bare is a number in the units shown, without its unit, with as many digits as a sentence needs.
func (r row) bare(column string) string {
	x, ok := r.number(column)
	if !ok {
		return "–"
	}
	return brief(r.a.measure(column), x)
}

// brief writes a number with no more than four digits where it has a fraction.
func brief(m result.Measure, x float64) string {
	switch size := math.Abs(m.Shown(x)); {
	case m.Decimals < 0 || m.Unit == "" && size < 10:
	case size >= 1000:
		m.Decimals = 0
	case size >= 10:
		m.Decimals = min(m.Decimals, 1)
	default:
		m.Decimals = min(m.Decimals, 2)
	}
	return strings.Replace(m.Text(x), "-", "−", 1)
}

// shown is a number with its unit.
func (r row) shown(column string) string {
	s := r.bare(column)
	if u := r.a.unit(column); u != "" && s != "–" {
		s += "\u00a0" + u
	}
	return s
}

func (a *answer) unit(column string) string {
	if _, ok := a.at[column]; !ok {
		return ""
	}
	return a.measure(column).Unit
}

// of gives the rows that have these values, column and value by turns.
func (a *answer) of(pairs ...string) []row {
	if a == nil {
		return nil
	}
	var list []row
rows:
	for _, r := range a.having(pairs[0], pairs[1]) {
		for i := 2; i+1 < len(pairs); i += 2 {
			if r.text(pairs[i]) != pairs[i+1] {
				continue rows
			}
		}
		list = append(list, r)
	}
	return list
}

// having gives the rows that have a value. All rows are sorted by the column once: a shop has many vehicles.
func (a *answer) having(column, value string) []row {
	if a.sorted == nil {
		a.sorted = map[string]map[string][]row{}
	}
	if a.sorted[column] == nil {
		by := map[string][]row{}
		for _, r := range a.rows {
			v := r.text(column)
			by[v] = append(by[v], r)
		}
		a.sorted[column] = by
	}
	return a.sorted[column][value]
}
