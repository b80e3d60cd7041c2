package stats

import (
	"math"
	"slices"
)

// block is a stretch of an isotonic fit on which it is level, drawn together to its centre.
type block struct{ x, y, w float64 }

// blocks pools neighbours that fall until none does (pool adjacent violators): the rising steps that fit the points best by weighted
// least squares. x must not decrease; missing values and weights of 0 are left out; w may be nil.
func blocks(x, y, w []float64) []block {
	var s []block
	for i := range min(len(x), len(y)) {
		b := block{x[i], y[i], 1}
		if w != nil {
			b.w = w[i]
		}
		if math.IsNaN(b.x+b.y) || !(b.w > 0) {
			continue
		}
		s = append(s, b)
		for n := len(s); n > 1 && s[n-2].y >= s[n-1].y; n = len(s) {
			p, q := s[n-2], s[n-1]
			v := p.w + q.w
			s = append(s[:n-2], block{(p.x*p.w + q.x*q.w) / v, (p.y*p.w + q.y*q.w) / v, v})
		}
	}
	return s
}

// Isotonic is the rising sequence nearest to y by least squares with weights w (nil: all alike); for a falling one give -y. Missing
// values stay missing.
func Isotonic(y, w []float64) []float64 {
	index := make([]float64, len(y))
	for i := range index {
		index[i] = float64(i)
	}
	out := slices.Clone(y)
	s, at, used := blocks(index, y, w), 0, 0.0
	for i := range out {
		v := 1.0
		if w != nil {
			v = w[i]
		}
		if math.IsNaN(y[i]) || !(v > 0) {
			out[i] = math.NaN()
			continue
		}
		if used+v/2 > s[at].w && at+1 < len(s) {
			at, used = at+1, 0
		}
		out[i] = s[at].y
		used += v
	}
	return out
}

// along is the height at x of straight lines from block to block, level beyond the outermost.
func along(s []block, x float64) float64 {
	n := len(s)
	switch i, _ := slices.BinarySearchFunc(s, x, func(b block, x float64) int { return sign(b.x - x) }); {
	case n == 0:
		return math.NaN()
	case i == 0:
		return s[0].y
	case i == n:
		return s[n-1].y
	default:
		p, q := s[i-1], s[i]
		return p.y + (q.y-p.y)*(x-p.x)/(q.x-p.x)
	}
}

func sign(x float64) int {
	switch {
	case x < 0:
		return -1
	case x > 0:
		return 1
	}
	return 0
}

// Place is where something happens on an axis, and the interval for it.
type Place struct {
	At float64 // -Inf: before the first bin; +Inf: not reached by the last.
	Interval
}

// Crossing is where a rising curve reaches a height: x is the bins' middles, rising, pulls a slice a pull with its mean in each bin (NaN
// where it has none). Each pull is made rising (isotonic fit, straight between its steps); their mean reaches the height at At; the
// interval holds the places around it at which Student's t over the pulls does not tell their mean from the height. It covers with
// the stated probability however a pull's bins err together, as pulls are what is counted. Ends are infinite where the bins end
// before the interval does; NaN for one pull.
//
// 95 % intervals covered 95–97 % in simulations of 2 to 8 pulls, 98 % of 2 or 3 whose bins err independently (TestCoverageCrossing).
func Crossing(x []float64, pulls [][]float64, height, level float64) Place {
	var fits []rise
	for _, p := range pulls {
		if f := newRise(x, p); len(f.steps) > 0 {
			fits = append(fits, f)
		}
	}
	var at, low, mid, high []float64
	column := make([]float64, 0, len(fits))
	for _, v := range x {
		column = column[:0]
		for _, f := range fits {
			if v >= f.from && v <= f.to {
				column = append(column, along(f.steps, v))
			}
		}
		if len(column) == 0 || len(column) < min(2, len(fits)) { // Where one pull of several runs on alone nothing can be told.
			continue
		}
		s := Summary(column)
		e := s.Estimate().Interval(level)
		at, low, mid, high = append(at, v), append(low, e.Lo), append(mid, s.Mean), append(high, e.Hi)
	}
	return around(at, low, mid, high, height)
}

// rise is one pull's isotonic fit, and the stretch over which it has values.
type rise struct {
	steps    []block
	from, to float64
}

func newRise(x, y []float64) rise {
	r := rise{steps: blocks(x, y, nil), from: math.Inf(1), to: math.Inf(-1)}
	for i, v := range y {
		if i < len(x) && !math.IsNaN(v) {
			r.from, r.to = min(r.from, x[i]), max(r.to, x[i])
		}
	}
	return r
}

// around is where mid reaches the height, and how far from there it stays between low and high.
func around(x, low, mid, high []float64, height float64) Place {
	p := Place{math.NaN(), none()}
	n := len(x)
	if n == 0 {
		return p
	}
	first := 0
	for first < n && !(mid[first] >= height) {
		first++
	}
	switch first {
	case 0:
		p.At = math.Inf(-1)
	case n:
		p.At = math.Inf(1)
	default:
		p.At = meets(x, mid, first-1, height)
	}
	from, to := min(first, n-1), max(first-1, 0) // The bins next to the place.
	if math.IsNaN(low[from]) || math.IsNaN(low[to]) {
		return p
	}
	i := from
	for i > 0 && high[i-1] >= height {
		i--
	}
	p.Lo = math.Inf(-1)
	switch {
	case high[i] < height: // Also at the last bin the height is out of reach.
		p.Lo = math.Inf(1)
	case i > 0:
		p.Lo = min(meets(x, high, i-1, height), p.At)
	}
	i = to
	for i+1 < n && low[i+1] <= height {
		i++
	}
	p.Hi = math.Inf(1)
	switch {
	case low[i] > height:
		p.Hi = math.Inf(-1)
	case i+1 < n:
		p.Hi = max(meets(x, low, i, height), p.At)
	}
	return p
}

// meets is where the line from bin i to the next has the height.
func meets(x, y []float64, i int, height float64) float64 {
	if math.IsNaN(y[i]) || math.IsNaN(y[i+1]) {
		return x[i]
	}
	return x[i] + (x[i+1]-x[i])*min(1, max(0, (height-y[i])/(y[i+1]-y[i])))
}
