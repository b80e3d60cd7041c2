package config

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

func (c *Config) readLimits(root entry.Value) error {
	forms, top := list(root, "limits")
	errs := []error{top.Err()}
	seen := map[schema.Limit]entry.Position{}
	for _, f := range forms {
		l := c.limit(f)
		for _, max := range []bool{true, false} {
			key := l
			key.Note, key.Max, key.Min = "", 0, 0
			if max && math.IsNaN(l.Max) || !max && math.IsNaN(l.Min) {
				continue
			}
			if max {
				key.Max = 1
			}
			if at, ok := seen[key]; ok {
				f.Fail(f.Value.At, "", "found a second limit of %s for the same runs: line %d has one already", l.Column, at.Line)
			}
			seen[key] = f.Value.At
		}
		errs = append(errs, f.Err())
		c.Limits = append(c.Limits, l)
	}
	return errors.Join(errs...)
}

func (c *Config) limit(f *entry.Form) schema.Limit {
	f.Close("column", "max", "min", "vehicle", "platform", "duty", "test", "note")
	l := schema.Limit{
		Column: strings.ToLower(f.Text("column")), Max: math.NaN(), Min: math.NaN(), Vehicle: f.Text("vehicle"), Platform: f.Text("platform"),
		Duty: f.Word("duty", "light", "heavy"), Test: f.Word("test", "sweep", "steps", "road", "coast", "other"), Note: f.Text("note"),
	}
	column, ok := schema.Lookup(l.Column)
	switch {
	case l.Column == "":
		f.Fail(f.Value.At, "column", "found a limit without column: want one of the catalogue's columns, such as turbine_in_c")
		return l
	case !ok:
		f.Fail(f.At("column"), "column", "found the unknown column %q: %s", l.Column, suggestColumn(l.Column))
		return l
	case column.Quantity == "basis" || l.Column == "t_s":
		f.Fail(f.At("column"), "column", "found %q, which cannot be limited", l.Column)
		return l
	}
	if !f.Has("max") && !f.Has("min") {
		f.Fail(f.Value.At, "", "found no bound on %s: want max or min, such as max: 34 psi", l.Column)
	}
	l.Max, l.Min = c.bound(f, "max", column), c.bound(f, "min", column)
	if l.Min > l.Max {
		f.Fail(f.At("min"), "min", "found %q, above the max of %q", f.Text("min"), f.Text("max"))
	}
	return l
}

// bound reads one bound; it is NaN when not stated.
func (c *Config) bound(f *entry.Form, name string, column schema.Column) float64 {
	if !f.Has(name) {
		return math.NaN()
	}
	unit := column.Unit
	want := entry.Want{Unit: unit, Reference: column.Reference, Example: example(column)}
	r := f.Reading(name, want)
	if r.Assumed && f.Err() == nil {
		c.doubt(f.At(name), "limit_reference_assumed", column.Name, fmt.Sprintf("%s of %s, %q, is read as an absolute pressure (%.4g kPa), as the column is: write %sa, or limit boost or another gauge column if gauge was meant",
			name, column.Name, f.Text(name), r.Value, r.Unit.Name))
	}
	if f.Err() == nil && !column.Plausible(r.Value) {
		c.doubt(f.At(name), "limit_implausible", column.Name, fmt.Sprintf("%s of %s, %q, is %.6g %s, outside what such a sensor reads (%.6g to %.6g): was a unit left out?",
			name, column.Name, f.Text(name), r.Value, unit, column.Range[0], column.Range[1]))
	}
	return r.Value
}

func example(c schema.Column) string {
	switch {
	case c.Reference == schema.Absolute:
		return "300 kPa or 43.5 psia"
	case c.Quantity == "pressure":
		return "234 kPa or 34 psi"
	case c.Quantity == "temperature":
		return "780 °C or 1436 °F"
	case c.Quantity == "ratio":
		return "1.2"
	}
	return "100 " + c.Unit
}

func suggestColumn(word string) string {
	var names []string
	for _, c := range schema.Columns() {
		names = append(names, c.Name)
	}
	if n := entry.Nearest(word, names); n != "" {
		return fmt.Sprintf("did you mean %q? (dynolake channels lists them)", n)
	}
	return "want a column that dynolake channels lists, such as turbine_in_c"
}

// doubtLimits doubts limits on vehicles and platforms that nobody listed.
func (c *Config) doubtLimits() {
	var vehicles, platforms []string
	for _, v := range c.Vehicles {
		vehicles, platforms = append(vehicles, v.ID), append(platforms, v.Platform)
	}
	for i, l := range c.Limits {
		for _, s := range []struct {
			field, name string
			names       []string
		}{{"vehicle", l.Vehicle, vehicles}, {"platform", l.Platform, platforms}} {
			if s.name == "" || slices.Contains(s.names, s.name) {
				continue
			}
			text := fmt.Sprintf("limit %d, of %s, is for the %s %q, which vehicles.yaml does not list", i+1, l.Column, s.field, s.name)
			if n := entry.Nearest(s.name, s.names); n != "" {
				text += fmt.Sprintf(": did you mean %q?", n)
			}
			c.doubt(entry.Position{File: "limits.yaml"}, "limit_of_unknown_"+s.field, l.Column, text)
		}
	}
}
