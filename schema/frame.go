package schema

import (
	"maps"
	"math"
	"slices"
)

// Frame is a run's rows in memory: t_s and any columns of the catalogue, each of the same length, NaN where missing.
// States and enums are held as numbers (an enum by its code).
type Frame struct {
	T       []float64 // Seconds from the first row, strictly increasing.
	columns map[string][]float64
}

// NewFrame makes a frame over the given times; the slice is kept.
func NewFrame(t []float64) *Frame { return &Frame{T: t, columns: map[string][]float64{}} }

// Len is the number of rows.
func (f *Frame) Len() int { return len(f.T) }

// Column returns a column's values, or nil where the run has none. t_s is a column too.
func (f *Frame) Column(name string) []float64 {
	if name == "t_s" {
		return f.T
	}
	return f.columns[name]
}

// Has reports whether the column holds at least one value.
func (f *Frame) Has(name string) bool {
	return slices.ContainsFunc(f.Column(name), func(v float64) bool { return !math.IsNaN(v) })
}

// Set puts a column in, replacing any of that name. It panics when the length differs: a fault of the caller.
func (f *Frame) Set(name string, values []float64) {
	if len(values) != len(f.T) {
		panic("schema: column " + name + " has another length than the frame")
	}
	f.columns[name] = values
}

// Drop removes a column.
func (f *Frame) Drop(name string) { delete(f.columns, name) }

// Names lists the columns present, in catalogue order; names outside the catalogue come last, sorted.
func (f *Frame) Names() []string {
	names := make([]string, 0, len(f.columns))
	for _, c := range Columns() {
		if _, ok := f.columns[c.Name]; ok {
			names = append(names, c.Name)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(f.columns)) {
		if _, ok := Lookup(n); !ok {
			names = append(names, n)
		}
	}
	return names
}

// Missing makes a slice of n missing values.
func Missing(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}
