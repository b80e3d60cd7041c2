package lake

import (
	"math"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"

	"dynolake/schema"
)

// samplesSheet lays a run's frame out as samples. A column without any value is left out.
func samplesSheet(run string, f *schema.Frame) sheet {
	table, _ := schema.LookupTable("samples")
	s := sheet{table: table, rows: f.Len(), owner: func(int) string { return run }}
	for _, c := range table.Columns {
		if c.Name == "run_id" || f.Has(c.Name) {
			s.columns = append(s.columns, c)
		}
	}
	s.array = func(mem memory.Allocator, c schema.Column, lo, hi int) arrow.Array {
		if c.Name == "run_id" {
			return repeat(mem, run, hi-lo)
		}
		return numbers(mem, c, f.Column(c.Name)[lo:hi])
	}
	return s
}

func repeat(mem memory.Allocator, text string, n int) arrow.Array {
	b := array.NewStringBuilder(mem)
	defer b.Release()
	b.Reserve(n)
	b.ReserveData(n * len(text))
	for range n {
		b.Append(text)
	}
	return b.NewArray()
}

// numbers makes a column from a frame's values: NaN becomes NULL, a code its text, a state a whole number.
func numbers(mem memory.Allocator, c schema.Column, values []float64) arrow.Array {
	b := array.NewBuilder(mem, arrowType(c))
	defer b.Release()
	b.Reserve(len(values))
	switch b := b.(type) {
	case *array.Float32Builder:
		for _, v := range values {
			if v != v {
				b.UnsafeAppendBoolToBitmap(false)
				continue
			}
			b.UnsafeAppend(float32(v))
		}
	case *array.StringBuilder:
		for _, v := range values {
			push(b, enumText(c, v))
		}
	default:
		for _, v := range values {
			push(b, v)
		}
	}
	return b.NewArray()
}

// rounded counts the values of whole-number columns that are not whole, by column.
func rounded(f *schema.Frame) map[string]int {
	n := map[string]int{}
	for _, name := range f.Names() {
		if c, _ := schema.Lookup(name); c.Type != "int32" {
			continue
		}
		for _, v := range f.Column(name) {
			if v != math.Round(v) && !math.IsNaN(v) {
				n[name]++
			}
		}
	}
	return n
}
