package lake

import (
	"iter"
	"math"
	"slices"
	"strings"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"

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
	s.array = func(mem memory.Allocator, c schema.Column, lo, hi int) arrow.Array {
		if of, name, ok := figure(c); ok {
			return figures(mem, bins[lo:hi], of, name)
		}
		return s.cells(mem, c, lo, hi)
	}
	filled := map[string]bool{}
	for _, b := range bins {
		for name := range b.names() {
			if !filled[name] {
				filled[name] = !null(b.cell(name))
			}
		}
	}
	s.columns = slices.DeleteFunc(slices.Clone(table.Columns), func(c schema.Column) bool { return !filled[c.Name] })
	return s
}

// figure tells which of a bin's maps a column of floats is from, and under which name: 0 the means, 1 the p05, 2 the p95.
func figure(c schema.Column) (of int, name string, ok bool) {
	if c.Type != "float32" || slices.Contains(fixed(), c.Name) {
		return 0, "", false
	}
	if col, known := schema.Lookup(c.Name); known {
		return 0, c.Name, col.Type != "enum"
	}
	for i, ending := range []string{"", "_p05", "_p95"} {
		if name, cut := strings.CutSuffix(c.Name, ending); cut && i > 0 {
			return i, name, true
		}
	}
	return 0, "", false
}

// figures makes a column of one of the bins' maps.
func figures(mem memory.Allocator, bins []bin, of int, name string) arrow.Array {
	b := array.NewFloat32Builder(mem)
	defer b.Release()
	b.Reserve(len(bins))
	for i := range bins {
		c := &bins[i].curve
		v, ok := [...]map[string]float64{c.Mean, c.P05, c.P95}[of][name]
		if !ok || v != v {
			b.UnsafeAppendBoolToBitmap(false)
			continue
		}
		b.UnsafeAppend(float32(v))
	}
	return b.NewArray()
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
