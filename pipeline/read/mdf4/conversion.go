package mdf4

import (
	"math"
)

// conversion turns what is stored into what is meant: a number, or NaN and a text, or NaN alone where nothing is meant.
type conversion interface {
	number(x float64) (float64, string)
}

// many is a conversion that turns a column at once.
type many interface{ all(v []float64) }

// worded is a conversion of texts.
type worded interface {
	word(s string) (float64, string)
}

// convKey tells conversions apart: ranges mean another thing for integers than for floats.
type convKey struct {
	at    int64
	float bool
}

// deepestConversion is how far conversions that are the default of others may nest.
const deepestConversion = 8

// convert reads a channel's conversion, and its unit where the channel has none. One that cannot be understood sets the
// channel aside.
func (f *file) convert(at int64, c *channel) error {
	if at == 0 {
		return nil
	}
	conv, unit, err := f.conversion(convKey{at, c.float()}, c.name, 0)
	switch {
	case isDamage(err):
		if c.why == "" {
			c.why = "of a conversion that cannot be read (" + err.Error() + ")"
		}
		return nil
	case err != nil:
		return err
	}
	if c.unit == "" {
		c.unit = unit
	}
	if _, ok := conv.(worded); conv != nil && c.why == "" && ok != c.text() {
		c.why = "of a conversion that does not fit its data type"
	}
	c.conv = conv
	return nil
}

// converted keeps a conversion and its unit, or why there is none: many channels may share it.
type converted struct {
	conversion
	unit string
	err  error
}

func (f *file) conversion(key convKey, of string, depth int) (conversion, string, error) {
	if k, ok := f.known[key]; ok {
		return k.conversion, k.unit, k.err
	}
	c, unit, err := f.converted(key, of, depth)
	if err == nil || depth == 0 && isDamage(err) {
		f.known[key] = converted{c, unit, err}
	}
	return c, unit, err
}

func (f *file) converted(key convKey, of string, depth int) (conversion, string, error) {
	b, err := f.block(key.at, 4, 24, "CC")
	if err != nil {
		return nil, "", err
	}
	unit, err := f.label(b.links[1], "unit", of)
	if err != nil {
		return nil, "", err
	}
	refs, vals := int(le.Uint16(b.data[4:])), int(le.Uint16(b.data[6:]))
	if len(b.links) < 4+refs || len(b.data) < 24+8*vals {
		return nil, "", harm("CC", key.at, "%d references and %d values do not fit into it", refs, vals)
	}
	t := &table{file: f, at: key.at, float: key.float, of: of, depth: depth, refs: b.links[4 : 4+refs], vals: make([]float64, vals)}
	for i := range t.vals {
		t.vals[i] = double(b.data[24+8*i:])
	}
	c, err := t.build(b.data[0])
	if err != nil {
		return nil, "", err
	}
	if unit == "" {
		unit = t.unit
	}
	return c, unit, nil
}

// table is a CC block's content while its conversion is made.
type table struct {
	*file
	at    int64
	float bool
	of    string
	depth int
	refs  []int64
	vals  []float64
	unit  string // Of the default conversion.
}

func double(b []byte) float64 { return math.Float64frombits(le.Uint64(b)) }

// need checks for so many values and references.
func (t *table) need(vals, refs int) error {
	if len(t.vals) < vals || len(t.refs) < refs {
		return harm("CC", t.at, "%d values and %d references are too few: its kind needs %d and %d", len(t.vals), len(t.refs), vals, refs)
	}
	for _, v := range t.vals {
		if math.IsNaN(v) {
			return harm("CC", t.at, "one of its values is not a number")
		}
	}
	return nil
}

// build makes the conversion of a kind.
func (t *table) build(kind uint8) (conversion, error) {
	switch kind {
	case 0:
		return nil, nil
	case 1:
		if err := t.need(2, 0); err != nil {
			return nil, err
		}
		return linear{t.vals[0], t.vals[1]}, nil
	case 2:
		if err := t.need(6, 0); err != nil {
			return nil, err
		}
		return rational(t.vals[:6]), nil
	case 3:
		return t.formula()
	case 4, 5:
		return t.points(kind == 4)
	case 6:
		return t.rangesToValue()
	case 7:
		return t.valuesToText()
	case 8:
		return t.rangesToText()
	case 9:
		return t.textToValue()
	case 10:
		return t.textToText()
	case 11:
		return t.bitFieldText()
	}
	return nil, harm("CC", t.at, "a conversion of kind %d, which is not known", kind)
}

func (t *table) formula() (conversion, error) {
	if err := t.need(0, 1); err != nil {
		return nil, err
	}
	n, err := t.note(t.refs[0])
	if err != nil {
		return nil, err
	}
	fm, err := newFormula(n.text)
	if err != nil {
		return nil, harm("CC", t.at, "its formula %.200q is not understood: %v", n.text, err)
	}
	if fm.log {
		t.say("formula_log", t.of, "the formula %q of %q: log is taken as the natural logarithm", n.text, t.of)
	}
	return fm, nil
}

// linear is y = a + b·x.
type linear struct{ a, b float64 }

func (l linear) number(x float64) (float64, string) {
	v := []float64{x}
	l.all(v)
	return v[0], ""
}

func (l linear) all(v []float64) {
	if l.a == 0 { // A zero added would turn -0 into 0.
		for i := range v {
			v[i] *= l.b
		}
		return
	}
	for i, x := range v {
		v[i] = float64(l.b*x) + l.a
	}
}

// rational is y = (p0·x² + p1·x + p2) / (p3·x² + p4·x + p5); where it divides by zero nothing is meant.
type rational []float64

func (r rational) number(x float64) (float64, string) {
	up, down := r[0]*x*x+r[1]*x+r[2], r[3]*x*x+r[4]*x+r[5]
	if down == 0 {
		return math.NaN(), ""
	}
	return up / down, ""
}

func (r rational) all(v []float64) {
	for i, x := range v {
		v[i], _ = r.number(x)
	}
}
