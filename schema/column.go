package schema

import (
	"slices"
	"sync"
)

// Reference says what zero a pressure is counted from.
type Reference string

// The references a pressure can have; other quantities have none.
const (
	NoReference Reference = ""
	Absolute    Reference = "absolute"
	Difference  Reference = "difference"
	Gauge       Reference = "gauge"
)

// Kind tells how a column behaves between two rows.
type Kind string

// A continuous column may be interpolated, a state is held.
const (
	Continuous Kind = "continuous"
	State      Kind = "state"
)

// Column is one stored column of the samples table.
type Column struct {
	Name      string    `json:"name"`
	ID        int       `json:"id"` // Parquet field id, never reused.
	Quantity  string    `json:"quantity"`
	Unit      string    `json:"unit"`
	Reference Reference `json:"reference"`
	Kind      Kind      `json:"kind"`
	Type      string    `json:"type"`   // float32 (default), float64, int32 or enum.
	Values    []string  `json:"values"` // An enum's texts; code 0 is the first.
	Aliases   []string  `json:"aliases"`
	Range     []float64 `json:"range"` // Plausible lowest and highest, stored unit; nil: no bound.
	Decimals  int       `json:"decimals"`
	Quantiles bool      `json:"quantiles"` // Curves keep its p05 and p95 beside its mean.
	Meaning   string    `json:"meaning"`
	Formula   string    `json:"formula"`
	Needs     []string  `json:"needs"`
	Inputs    []string  `json:"inputs"`   // Logged columns that move it, each with its sensitivity where that is a constant: map_kpa +1.
	Validity  string    `json:"validity"` // Where a derived column holds, and what it is NULL outside of.
	Source    string    `json:"source"`
	Derived   bool      `json:"-"`
}

// Plausible reports whether v lies in the column's stated range.
func (c Column) Plausible(v float64) bool {
	return len(c.Range) != 2 || (v >= c.Range[0] && v <= c.Range[1])
}

type catalogue struct {
	columns []Column
	byName  map[string]int
}

var load = sync.OnceValue(func() catalogue {
	c := catalogue{byName: map[string]int{}}
	channels := stated().Channels
	for i := range channels.Derived {
		channels.Derived[i].Derived = true
	}
	c.columns = slices.Concat(channels.Measured, channels.Derived)
	for i := range c.columns {
		if c.columns[i].Type == "" {
			c.columns[i].Type = "float32"
		}
		c.byName[c.columns[i].Name] = i
	}
	return c
})

// Columns returns every column of the samples table, measured first, in catalogue order. The slice is shared: do not change it.
func Columns() []Column { return load().columns }

// Lookup finds a column by its stored name.
func Lookup(name string) (Column, bool) {
	c := load()
	i, ok := c.byName[name]
	if !ok {
		return Column{}, false
	}
	return c.columns[i], true
}
