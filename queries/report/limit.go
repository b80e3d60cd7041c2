package report

import (
	"strings"

	"dynolake/queries/plot"
	"dynolake/queries/result"
)

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
	s := brief(m, x)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if m.Unit != "" {
		s += "\u00a0" + m.Unit
	}
	return s
}

// word names a column of the catalogue in words.
func word(column string) string {
	if t, ok := map[string]string{"turbine_in_c": "temperature before the turbine", "compressor_out_c": "temperature after the compressor", "vane_pct": "vanes at their stop",
		"rail_deficit": "rail pressure short", "rail_error_kpa": "rail pressure short"}[column]; ok {
		return t
	}
	text, _, _ := strings.Cut(plot.Quantity(column), ",")
	return text
}
