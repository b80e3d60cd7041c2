package lake

import (
	"iter"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

// bin is one row of curves. It is laid out cell by cell: a long log has hundreds of thousands of them, each of a hundred columns.
type bin struct {
	run   string
	curve schema.Curve
}

// curveSheet lays bins out, without the columns that none of them fills.
func curveSheet(bins []bin) sheet {
	table, _ := schema.LookupTable("curves")
	s := sheet{table: table, rows: len(bins)}
	s.cell = func(i int, column string) any { return bins[i].cell(column) }
	s.names = func(i int) iter.Seq[string] { return bins[i].names() }
	s.owner = func(i int) string { return bins[i].run }
	filled := map[string]bool{}
	for _, b := range bins {
		for name := range b.names() {
			filled[name] = filled[name] || !null(b.cell(name))
		}
	}
	s.columns = slices.DeleteFunc(slices.Clone(table.Columns), func(c schema.Column) bool { return !filled[c.Name] })
	return s
}

// fixed are the columns that every bin has.
func fixed() []string { return []string{"run_id", "segment_id", "axis", "bin", "n_samples"} }

func (b bin) names() iter.Seq[string] {
	return func(yield func(string) bool) {
		for _, name := range fixed() {
			if !yield(name) {
				return
			}
		}
		for _, part := range []struct {
			of     map[string]float64
			ending string
		}{{b.curve.Mean, ""}, {b.curve.P05, "_p05"}, {b.curve.P95, "_p95"}} {
			for name := range part.of {
				if !yield(name + part.ending) {
					return
				}
			}
		}
	}
}

func (b bin) cell(column string) any {
	switch column {
	case "run_id":
		return b.run
	case "segment_id":
		return int64(b.curve.SegmentID)
	case "axis":
		return b.curve.Axis
	case "bin":
		return b.curve.Bin
	case "n_samples":
		return int64(b.curve.N)
	}
	if v, ok := b.curve.Mean[column]; ok {
		if c, known := schema.Lookup(column); known && c.Type == "enum" {
			return enumText(c, v)
		}
		return v
	}
	for _, part := range []struct {
		of     map[string]float64
		ending string
	}{{b.curve.P05, "_p05"}, {b.curve.P95, "_p95"}} {
		if name, ok := strings.CutSuffix(column, part.ending); ok {
			if v, ok := part.of[name]; ok {
				return v
			}
		}
	}
	return nil
}

// enumText gives the text of a code. The mean of rows that differ is no code and has none.
func enumText(c schema.Column, code float64) string {
	if code != math.Trunc(code) || code < 0 || int(code) >= len(c.Values) {
		return ""
	}
	return c.Values[int(code)]
}
