package report

import (
	"context"
	"slices"
	"strings"

	"dynolake/queries/packs"
	"dynolake/queries/plot"
	"dynolake/queries/result"
)

// limits asks the query that gives a row a vehicle, calibration and limit.
func (w *writer) limits(ctx context.Context, params ...string) (*answer, error) {
	for _, p := range w.in.Packs.All() {
		if strings.HasPrefix(p.Name, "limits/") && declares(p, "vehicle", "calibration", "quantity", "bound", "expected_power_kw", "basis") {
			return w.ask(ctx, p.Name, params...)
		}
	}
	return nil, nil
}

func declares(p *packs.Pack, columns ...string) bool {
	for _, c := range columns {
		if !slices.ContainsFunc(p.Columns, func(d packs.Column) bool { return d.Name == c }) {
			return false
		}
	}
	return true
}

// stored shows a number of a row whose quantity column says which column of the catalogue it is of.
func (w *writer) stored(r row, column string) string {
	x, ok := r.number(column)
	if !ok {
		return "–"
	}
	return w.measured(r.text("quantity"), x)
}

// measured writes a number of a catalogue's column with its unit.
func (w *writer) measured(quantity string, x float64) string {
	m := result.MeasureOf(result.Column{Name: quantity, Kind: result.Float64}, result.Options{Units: w.in.Units})
	s := strings.Replace(m.Text(x), "-", "−", 1)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if m.Unit != "" {
		s += "\u00a0" + m.Unit
	}
	return s
}

// word names a column of the catalogue in words.
func word(column string) string { return plot.Quantity(column) }
