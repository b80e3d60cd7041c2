package schema

import "sync"

// Offsets from a column's field id to those of its quantiles in curves, and from a list's to its element's.
const (
	P05ID     = 3000
	P95ID     = 5000
	ElementID = 500
)

// Table is one table of the lake as it is stored. Its columns' types are float32, float64, int32, int64, string, bool,
// timestamp (microseconds, UTC), list_float64 and list_string; every column may hold NULL.
type Table struct {
	Name    string
	Meaning string
	Columns []Column
}

// Column finds one of the table's columns by name.
func (t Table) Column(name string) (Column, bool) {
	for _, c := range t.Columns {
		if c.Name == name {
			return c, true
		}
	}
	return Column{}, false
}

var tables = sync.OnceValue(func() []Table {
	list := make([]Table, 0, len(stated().Tables))
	for _, s := range stated().Tables {
		t := Table{Name: s.Table, Meaning: s.Meaning, Columns: s.Columns}
		for _, c := range Columns() {
			switch s.Catalogue {
			case "samples":
				t.Columns = append(t.Columns, sample(c))
			case "curves":
				t.Columns = append(t.Columns, curve(c)...)
			}
		}
		list = append(list, t)
	}
	return list
})

// Tables returns every stored table, in the order in which readers see them. The slices are shared: do not change them.
func Tables() []Table { return tables() }

// LookupTable finds a table by name.
func LookupTable(name string) (Table, bool) {
	for _, t := range Tables() {
		if t.Name == name {
			return t, true
		}
	}
	return Table{}, false
}

// sample gives a catalogue column as the samples table stores it: an enum by its texts.
func sample(c Column) Column {
	if c.Type == "enum" {
		c.Type = "string"
	}
	return c
}

// curve gives the columns that the curves table has for one catalogue column: its mean, and quantiles where asked for.
func curve(c Column) []Column {
	m := sample(c)
	if m.Type == "string" {
		m.Meaning += " (the one that held longest in the bin)"
		return []Column{m}
	}
	if m.Type == "int32" {
		m.Type = "float32" // A mean of whole numbers is not whole.
	}
	m.Meaning = "mean of " + c.Meaning
	list := []Column{m}
	if c.Quantiles {
		p05, p95 := m, m
		p05.Name, p05.ID, p05.Meaning = c.Name+"_p05", c.ID+P05ID, "5th percentile of "+c.Meaning
		p95.Name, p95.ID, p95.Meaning = c.Name+"_p95", c.ID+P95ID, "95th percentile of "+c.Meaning
		list = append(list, p05, p95)
	}
	return list
}
