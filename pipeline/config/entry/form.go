package entry

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Form reads one map field by field. Every fault is kept, and Err gives them all.
type Form struct {
	Value Value
	errs  []error
}

// NewForm opens a map; anything else is a fault.
func NewForm(v Value) *Form {
	f := &Form{Value: v}
	if v.Kind != Map && v.Kind != Null {
		f.Fail(v.At, "", "found %s: want fields, a line each as name: value", v.describe())
	}
	return f
}

// Fail records a fault.
func (f *Form) Fail(at Position, field, format string, args ...any) {
	f.errs = append(f.errs, at.Errorf(field, format, args...))
}

// Err joins every fault found so far, in the order found.
func (f *Form) Err() error { return errors.Join(f.errs...) }

// find looks a field up; an empty one counts as not stated.
func (f *Form) find(name string) (Value, bool) {
	field, ok := f.Value.Field(name)
	return field.Value, ok && field.Value.Kind != Null
}

// Has reports whether the field is stated.
func (f *Form) Has(name string) bool { _, ok := f.find(name); return ok }

// At is where the field's value stands, or the map when it is not stated.
func (f *Form) At(name string) Position {
	if v, ok := f.find(name); ok {
		return v.At
	}
	return f.Value.At
}

// Text reads a text; it is empty when not stated.
func (f *Form) Text(name string) string {
	v, ok := f.find(name)
	if !ok {
		return ""
	}
	if v.Kind != Scalar {
		f.Fail(v.At, name, "found %s: want one text", v.describe())
		return ""
	}
	return strings.TrimSpace(v.Text)
}

// Word reads a text that is one of a few, without regard to case.
func (f *Form) Word(name string, words ...string) string {
	t := f.Text(name)
	if t == "" {
		return ""
	}
	if i := slices.IndexFunc(words, func(w string) bool { return strings.EqualFold(w, t) }); i >= 0 {
		return words[i]
	}
	f.Fail(f.At(name), name, "found %q: %s", t, Expected(t, words))
	return ""
}

// Number reads a quantity; it is 0 when not stated.
func (f *Form) Number(name string, want Want) float64 { return f.Reading(name, want).Value }

// Reading reads a quantity with what was assumed of it.
func (f *Form) Reading(name string, want Want) Reading {
	if !f.Has(name) {
		return Reading{}
	}
	text := f.Text(name)
	if text == "" {
		return Reading{}
	}
	r, err := Quantity(text, want)
	if err != nil {
		f.Fail(f.At(name), name, "%w", err)
		return Reading{}
	}
	return r
}

// List reads a list; one value alone is a list of one.
func (f *Form) List(name string) []Value {
	v, ok := f.find(name)
	switch {
	case !ok:
		return nil
	case v.Kind == List:
		return v.Items
	default:
		return []Value{v}
	}
}

// Polynomial reads up to three force coefficients in rising powers of speed, in N/(km/h)^k; missing ones are 0.
func (f *Form) Polynomial(name string) []float64 {
	items := f.List(name)
	if items == nil {
		return nil
	}
	if len(items) == 0 || len(items) > len(perSpeed) {
		f.Fail(f.At(name), name, "found %d coefficients: want three, such as [120 N, 0.9 N/(km/h), 0.03 N/(km/h)^2]", len(items))
		return nil
	}
	out := make([]float64, len(perSpeed))
	for k, item := range items {
		c, err := Coefficient(item.Text, k)
		if item.Kind != Scalar {
			err = fmt.Errorf("found %s: want a number with its unit", item.describe())
		}
		if err != nil {
			f.Fail(item.At, name, "%w", err)
			return nil
		}
		out[k] = c
	}
	for v := 0.0; v <= 100; v += 20 {
		if force := out[0] + v*(out[1]+v*out[2]); force < 0 {
			f.Fail(f.At(name), name, "found a force of %.4g N at %g km/h: want a force that resists at every speed", force, v)
			return nil
		}
	}
	return out
}

// Close faults every field that is none of the known names.
func (f *Form) Close(known ...string) {
	for _, field := range f.Value.Fields {
		if !slices.Contains(known, Fold(field.Name)) {
			f.Fail(field.At, field.Name, "found the unknown field %q: %s", field.Name, Expected(field.Name, known))
		}
	}
}

func (v Value) describe() string {
	switch v.Kind {
	case Map:
		return "a map"
	case List:
		return "a list"
	case Null:
		return "nothing"
	default:
		return strconv.Quote(v.Text)
	}
}

// Adopt takes over the faults of a form within this one.
func (f *Form) Adopt(inner *Form) {
	if err := inner.Err(); err != nil {
		f.errs = append(f.errs, err)
	}
}

// Rename lets fields go by other names too: the name written, folded, to the one meant. A field given under both is a fault.
func (f *Form) Rename(other map[string]string) {
	fields := make([]Field, len(f.Value.Fields))
	copy(fields, f.Value.Fields)
	for i := range fields {
		name, ok := other[Fold(fields[i].Name)]
		if !ok {
			continue
		}
		if before, both := f.Value.Field(name); both {
			f.Fail(fields[i].At, fields[i].Name, "found %q beside %q, which both mean %s: want one", fields[i].Name, before.Name, name)
		}
		fields[i].Name = name
	}
	f.Value.Fields = fields
}
