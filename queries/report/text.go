package report

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"dynolake/queries/result"
)

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// upper begins a text with a capital.
func upper(s string) string {
	if s == "" || strings.HasPrefix(s, "λ") {
		return s
	}
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}

func spaced(code string) string { return strings.ReplaceAll(code, "_", " ") }

// clip shortens a text to so many characters.
func clip(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// difference shows a difference of two values of a row's quantity.
func (w *writer) difference(r row, column string) string {
	x, ok := r.number(column)
	if !ok || math.IsNaN(x) {
		return "–"
	}
	m := result.MeasureOf(result.Column{Name: r.text("quantity"), Kind: result.Float64}, result.Options{Units: w.in.Units})
	m.Offset = 0
	s := brief(m, x)
	if m.Unit != "" {
		s += "\u00a0" + m.Unit
	}
	return s
}
