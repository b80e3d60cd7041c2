package mapping

import (
	"math"
	"slices"

	"dynolake/derive/stats"
)

// ranks answers for the order of values without sorting them: most channels are asked for one or two places, or none.
type ranks struct {
	values []float64
	room   []float64 // A copy that selection reorders, made when it is first needed.
}

// ranked is over values without NaN.
func ranked(values []float64) *ranks { return &ranks{values: values} }

// nth is the k-th smallest value, from 0.
func (r *ranks) nth(k int) float64 {
	if r.room == nil {
		r.room = slices.Clone(r.values)
	}
	return stats.Nth(r.room, k)
}

// quantile is quantile of the sorted values.
func (r *ranks) quantile(q float64) float64 {
	if r == nil || len(r.values) == 0 {
		return math.NaN()
	}
	return r.nth(int(q*float64(len(r.values)-1) + 0.5))
}
