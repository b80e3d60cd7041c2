package segment

import (
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// How a peak is smoothed. Common practice, no source.
const (
	peakShare  = 0.08 // Half width of the fit that finds a peak, as a share of the pull's time.
	peakHalf   = 0.2  // s. At least that, and
	peakRows   = 2.5  // rows.
	peakValues = 20
)

// peak is the highest value of a column in rows r0 to r1 on curves fitted to it so that noise does not lift it: over
// 8 % of the time on either side, 0.2 s and five rows at least, a parabola (a line where fewer than twenty values lie there),
// and never above what was logged there, as a parabola would be beside a sudden fall. NaN without values.
func peak(f *schema.Frame, name string, r0, r1 int) float64 {
	column := f.Column(name)
	if column == nil {
		return math.NaN()
	}
	b := newBlock(f, r0, r1+1, (f.T[r1]-f.T[r0])/float64(max(1, r1-r0)))
	c := b.thin(column)
	half := max(peakShare*(f.T[r1]-f.T[r0]), peakHalf, peakRows*usual(c.t))
	best := math.NaN()
	for _, t := range c.t {
		from, to := stats.Lower(c.t, t-half), stats.Lower(c.t, t+half)
		degree := 1
		if to-from >= peakValues {
			degree = 2
		}
		v, _ := stats.Local(c.t[from:to], c.x[from:to], c.w[from:to], t, half, degree)
		if v = min(v, highest(c.x[from:to])); !(v <= best) && !math.IsNaN(v) {
			best = v
		}
	}
	return best
}
