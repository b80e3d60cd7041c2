package mdf4

import (
	"math"
)

// answer is one entry of a table: a text, a conversion of what was looked up, that itself, or a value.
type answer struct {
	text  string
	conv  conversion
	same  bool
	value float64 // NaN beside a text, and where nothing is meant.
}

func (a answer) of(x float64) (float64, string) {
	switch {
	case a.conv != nil:
		return a.conv.number(x)
	case a.same:
		return x, ""
	}
	return a.value, a.text
}

// answer reads the text or conversion that a table refers to.
func (t *table) answer(at int64) (answer, error) {
	if at == 0 {
		return answer{value: math.NaN()}, nil
	}
	id, _, _, err := t.head(at, "TX", "MD", "CC")
	if err != nil {
		return answer{}, err
	}
	if id != "CC" {
		n, err := t.note(at)
		return answer{text: n.text, value: math.NaN()}, err
	}
	if t.depth >= deepestConversion {
		return answer{}, harm("CC", at, "conversions within conversions, more than %d deep or in a circle", deepestConversion)
	}
	c, unit, err := t.conversion(convKey{at, t.float}, t.of, t.depth+1)
	if err != nil {
		return answer{}, err
	}
	if t.unit == "" {
		t.unit = unit
	}
	if _, ok := c.(worded); ok {
		return answer{}, harm("CC", at, "a conversion of texts within one of numbers")
	}
	return answer{conv: c, same: c == nil}, nil
}

// other reads the default behind n entries: nothing is meant where there is none.
func (t *table) other(n int) (answer, error) {
	if len(t.refs) <= n {
		return answer{value: math.NaN()}, nil
	}
	return t.answer(t.refs[n])
}

// valuesToText reads keys with a text or a conversion for each, and a default.
func (t *table) valuesToText() (conversion, error) {
	n := len(t.vals)
	if err := t.need(n, n); err != nil {
		return nil, err
	}
	s := states{to: make(map[float64]answer, n)}
	for i, key := range t.vals {
		a, err := t.answer(t.refs[i])
		if err != nil {
			return nil, err
		}
		if _, ok := s.to[key]; !ok {
			s.to[key] = a
		}
	}
	var err error
	s.other, err = t.other(n)
	return s, err
}

// states is a table from single values.
type states struct {
	to    map[float64]answer
	other answer
}

func (s states) number(x float64) (float64, string) {
	if math.IsNaN(x) {
		return x, ""
	}
	if a, ok := s.to[x]; ok {
		return a.of(x)
	}
	return s.other.of(x)
}

// textToValue reads texts with a value for each, and a default.
func (t *table) textToValue() (conversion, error) {
	n := len(t.refs)
	if err := t.need(n, n); err != nil {
		return nil, err
	}
	w := words{to: make(map[string]answer, n), other: answer{value: math.NaN()}}
	for i, at := range t.refs {
		if err := t.word(w, at, answer{value: t.vals[i]}); err != nil {
			return nil, err
		}
	}
	if len(t.vals) > n {
		w.other.value = t.vals[n]
	}
	return w, nil
}

// textToText reads pairs of texts, and a default; where the second or the default is not given the text stays.
func (t *table) textToText() (conversion, error) {
	n := len(t.refs) / 2
	w := words{to: make(map[string]answer, n), other: answer{same: true}}
	for i := range n {
		a, err := t.replaced(t.refs[2*i+1])
		if err == nil {
			err = t.word(w, t.refs[2*i], a)
		}
		if err != nil {
			return nil, err
		}
	}
	if len(t.refs) == 2*n+1 {
		var err error
		if w.other, err = t.replaced(t.refs[2*n]); err != nil {
			return nil, err
		}
	}
	return w, nil
}

func (t *table) word(w words, at int64, a answer) error {
	n, err := t.note(at)
	if err != nil {
		return err
	}
	if _, ok := w.to[n.text]; !ok {
		w.to[n.text] = a
	}
	return nil
}

func (t *table) replaced(at int64) (answer, error) {
	if at == 0 {
		return answer{same: true}, nil
	}
	n, err := t.note(at)
	return answer{text: n.text, value: math.NaN()}, err
}

// words is a table from texts.
type words struct {
	to    map[string]answer
	other answer
}

func (w words) number(float64) (float64, string) { return math.NaN(), "" }

func (w words) word(s string) (float64, string) {
	a, ok := w.to[s]
	if !ok {
		a = w.other
	}
	if a.same {
		return math.NaN(), s
	}
	return a.value, a.text
}
