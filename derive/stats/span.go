package stats

import "math"

// Span is a stretch of a slice: From is inside, To is the first index behind it.
type Span struct{ From, To int }

// Len is the number of values in the span.
func (s Span) Len() int { return s.To - s.From }

// Hysteresis finds where a signal is switched on: from where it reaches on to where it passes off. With on above off it
// switches on at x >= on and off at x < off; with on below off the other way round. A missing value switches off.
func Hysteresis(x []float64, on, off float64) []Span {
	sign := 1.0
	if on < off {
		sign = -1
	}
	var spans []Span
	start := -1
	for i, v := range x {
		switch {
		case start < 0 && sign*v >= sign*on:
			start = i
		case start >= 0 && !(sign*v >= sign*off): // Also true of NaN.
			spans = append(spans, Span{start, i})
			start = -1
		}
	}
	if start >= 0 {
		spans = append(spans, Span{start, len(x)})
	}
	return spans
}

// Where finds the spans in which the condition holds at every index below n.
func Where(n int, holds func(i int) bool) []Span {
	var spans []Span
	for i := 0; i < n; i++ {
		if !holds(i) {
			continue
		}
		from := i
		for i < n && holds(i) {
			i++
		}
		spans = append(spans, Span{from, i})
	}
	return spans
}

// Join merges ordered spans that are at most gap values apart.
func Join(spans []Span, gap int) []Span {
	var out []Span
	for _, s := range spans {
		if n := len(out); n > 0 && s.From-out[n-1].To <= gap {
			out[n-1].To = max(out[n-1].To, s.To)
			continue
		}
		out = append(out, s)
	}
	return out
}

// Longer keeps the spans of at least n values.
func Longer(spans []Span, n int) []Span {
	var out []Span
	for _, s := range spans {
		if s.Len() >= n {
			out = append(out, s)
		}
	}
	return out
}

// Without takes what lies in the cuts out of spans, and may split them. Both must be ordered by From; cuts may overlap.
func Without(spans, cuts []Span) []Span {
	var out []Span
	first := 0 // Cuts before it lie behind every span to come.
	for _, s := range spans {
		for first < len(cuts) && cuts[first].To <= s.From {
			first++
		}
		for _, c := range cuts[first:] {
			if c.From >= s.To {
				break
			}
			if c.To <= s.From {
				continue
			}
			if c.From > s.From {
				out = append(out, Span{s.From, c.From})
			}
			s.From = max(s.From, c.To)
		}
		if s.From < s.To {
			out = append(out, s)
		}
	}
	return out
}

// Turn is a place where a signal stops rising or falling.
type Turn struct {
	At   int  // Index of the extreme value.
	High bool // A highest value; else a lowest.
}

// Turns finds the extremes between which a signal moves by at least least, the first and the last value present
// included. Smaller movements back and forth are noise. Missing values are passed over.
func Turns(x []float64, least float64) []Turn {
	lo, hi, dir := -1, -1, 0
	var turns []Turn
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		if lo < 0 || v < x[lo] {
			lo = i
		}
		if hi < 0 || v > x[hi] {
			hi = i
		}
		switch {
		case dir >= 0 && x[hi]-v >= least && hi < i: // Comes down from a high.
			if dir == 0 && lo < hi {
				turns = append(turns, Turn{lo, false})
			}
			turns = append(turns, Turn{hi, true})
			dir, lo, hi = -1, i, i
		case dir <= 0 && v-x[lo] >= least && lo < i:
			if dir == 0 && hi < lo {
				turns = append(turns, Turn{hi, true})
			}
			turns = append(turns, Turn{lo, false})
			dir, lo, hi = 1, i, i
		}
	}
	switch {
	case dir > 0:
		turns = append(turns, Turn{hi, true})
	case dir < 0:
		turns = append(turns, Turn{lo, false})
	}
	return turns
}
