package mdf4

import (
	"math"
	"sort"
)

// points reads a table of keys and values.
func (t *table) points(between bool) (conversion, error) {
	if err := t.need(2, 0); err != nil {
		return nil, err
	}
	n := len(t.vals) / 2
	p := points{between: between, x: make([]float64, n), y: make([]float64, n)}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return t.vals[2*order[a]] < t.vals[2*order[b]] })
	for to, from := range order {
		p.x[to], p.y[to] = t.vals[2*from], t.vals[2*from+1]
	}
	return p, nil
}

// points is a table by value: interpolated, or the value of the nearest key, half way the lower one's. The ends are held.
type points struct {
	x, y    []float64 // By rising x.
	between bool
}

func (p points) number(v float64) (float64, string) {
	if math.IsNaN(v) {
		return v, ""
	}
	i := sort.SearchFloat64s(p.x, v)
	switch {
	case i == len(p.x):
		return p.y[i-1], ""
	case i == 0 || p.x[i] == v:
		return p.y[i], ""
	case p.between:
		return p.y[i-1] + (p.y[i]-p.y[i-1])*((v-p.x[i-1])/(p.x[i]-p.x[i-1])), ""
	case v-p.x[i-1] <= p.x[i]-v:
		return p.y[i-1], ""
	}
	return p.y[i], ""
}

// rangesToValue reads triples of lower end, upper end and value, and a default.
func (t *table) rangesToValue() (conversion, error) {
	if err := t.need(1, 0); err != nil {
		return nil, err
	}
	n := len(t.vals) / 3
	r := ranges{float: t.float}
	for i := range n {
		r.add(t.vals[3*i], t.vals[3*i+1], answer{value: t.vals[3*i+2]})
	}
	r.other = answer{value: math.NaN()}
	if len(t.vals) == 3*n+1 {
		r.other.value = t.vals[3*n]
	}
	return r.indexed(), nil
}

// rangesToText reads pairs of ends with a text or a conversion for each, and a default.
func (t *table) rangesToText() (conversion, error) {
	n := len(t.vals) / 2
	if err := t.need(2*n, n); err != nil {
		return nil, err
	}
	r := ranges{float: t.float}
	for i := range n {
		a, err := t.answer(t.refs[i])
		if err != nil {
			return nil, err
		}
		r.add(t.vals[2*i], t.vals[2*i+1], a)
	}
	other, err := t.other(n)
	if err != nil {
		return nil, err
	}
	r.other = other
	return r.indexed(), nil
}

// ranges is a table by range. Both ends belong to a range of integers, the upper one to none of floats unless it is the lower one too. Of
// ranges that overlap the first wins.
type ranges struct {
	float  bool
	lo, hi []float64
	to     []answer
	other  answer
	apart  bool // They rise and do not overlap: the search may halve.
}

func (r *ranges) add(lo, hi float64, a answer) {
	r.lo, r.hi, r.to = append(r.lo, lo), append(r.hi, hi), append(r.to, a)
}

func (r ranges) indexed() ranges {
	r.apart = true
	for i := range r.lo {
		if r.hi[i] < r.lo[i] || i > 0 && r.lo[i] <= r.hi[i-1] && (!r.float || r.lo[i] < r.hi[i-1] || r.lo[i-1] == r.hi[i-1]) {
			r.apart = false
		}
	}
	return r
}

func (r ranges) holds(i int, x float64) bool {
	if r.float && r.lo[i] != r.hi[i] {
		return x >= r.lo[i] && x < r.hi[i]
	}
	return x >= r.lo[i] && x <= r.hi[i]
}

func (r ranges) number(x float64) (float64, string) {
	if math.IsNaN(x) {
		return x, ""
	}
	if r.apart {
		i := sort.Search(len(r.lo), func(i int) bool { return r.lo[i] > x }) - 1
		if i >= 0 && r.holds(i, x) {
			return r.to[i].of(x)
		}
		return r.other.of(x)
	}
	for i := range r.lo {
		if r.holds(i, x) {
			return r.to[i].of(x)
		}
	}
	return r.other.of(x)
}
