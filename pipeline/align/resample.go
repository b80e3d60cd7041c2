package align

import (
	"math"
	"sort"

	"dynolake/schema"
)

// gapLimit is the longest gap, in seconds, that a value may be carried across: the larger of 0.5 s and three periods.
func gapLimit(period float64) float64 { return math.Max(0.5, 3*period) }

// trace is one channel's logged values on its own clock, without missing ones.
type trace struct {
	t, v   []float64
	period float64
	state  bool
}

// newTrace keeps the rows that hold a value; of several on one time the last.
func newTrace(t, v []float64, kind schema.Kind) trace {
	tr := trace{state: kind == schema.State, t: make([]float64, 0, len(t)), v: make([]float64, 0, len(t))}
	for i := range t {
		if math.IsNaN(v[i]) {
			continue
		}
		if n := len(tr.t); n > 0 && tr.t[n-1] == t[i] {
			tr.v[n-1] = v[i]
			continue
		}
		tr.t, tr.v = append(tr.t, t[i]), append(tr.v, v[i])
	}
	tr.period = usualStep(tr.t)
	return tr
}

// at gives the trace's values at increasing times: linear between two values, held for a state, NaN across a gap longer than
// gapLimit; before the first and after the last value the nearest one for at most that long.
func (tr trace) at(times []float64) []float64 {
	out := schema.Missing(len(times))
	n, limit := len(tr.t), gapLimit(tr.period)
	if n == 0 {
		return out
	}
	const slack = 1e-9 // Times that differ by rounding alone count as equal.
	k := sort.SearchFloat64s(tr.t, times[0])
	for i, x := range times {
		for k < n && tr.t[k] <= x+slack {
			k++
		}
		switch { // tr.t[k-1] <= x < tr.t[k].
		case k == 0:
			if tr.t[0]-x <= limit+slack {
				out[i] = tr.v[0]
			}
		case x-tr.t[k-1] <= slack:
			out[i] = tr.v[k-1]
		case k == n:
			if x-tr.t[n-1] <= limit+slack {
				out[i] = tr.v[n-1]
			}
		case tr.t[k]-tr.t[k-1] <= limit+slack:
			if tr.state {
				out[i] = tr.v[k-1]
			} else {
				w := (x - tr.t[k-1]) / (tr.t[k] - tr.t[k-1])
				out[i] = tr.v[k-1] + w*(tr.v[k]-tr.v[k-1])
			}
		}
	}
	return out
}
