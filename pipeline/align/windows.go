package align

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	windowsMost = 24 // Parts of the overlap that are placed one by one,
	windowRows  = 12 // and the least rows of each.
	windowsFew  = 5  // Parts below which no drift is told.
	partSteps   = 24 // Steps each side in the search for a part's lag.
)

// part is a stretch of the overlap with its own best lag.
type part struct {
	t   float64 // Its middle on the recorder's clock, seconds.
	lag float64 // Seconds beyond the model's.
	se  float64 // Standard error of that, seconds.

	misfit float64 // Root mean square of what the two differ by, at its lag, or at the model's where it has none.
}

// parts cuts the overlap into stretches in which the signal moves equally much and finds each one's own lag near the model's. lost
// counts those that fit nowhere near it, as after a clock that jumped.
func (p pair) parts(m model, reach float64) (out []part, lost int) {
	every := max(1, p.stride()/4)
	x, y, at := p.values(m, every)
	var rows []int
	for i := range x {
		if !math.IsNaN(x[i]) && !math.IsNaN(y[i]) {
			rows = append(rows, i)
		}
	}
	n := min(windowsMost, len(rows)/windowRows)
	if n < 2 {
		return nil, 0
	}
	l := compare(x, y)
	var strangers []float64
	var usual []float64
	for _, w := range evenly(rows, y, n) {
		q, ok := p.place(m, l, at[w[0]:w[len(w)-1]+1], x, y, w, reach)
		if ok {
			out, usual = append(out, q), append(usual, q.misfit)
		} else {
			strangers = append(strangers, q.misfit)
		}
	}
	slices.Sort(usual)
	for _, misfit := range strangers {
		if misfit > 0.1*l.spreadX && len(usual) > 0 && misfit > 5*usual[len(usual)/2] {
			lost++
		}
	}
	return out, lost
}

// evenly cuts rows into n runs in each of which v moves equally much, up and down added.
func evenly(rows []int, v []float64, n int) [][]int {
	total := 0.0
	for i := 1; i < len(rows); i++ {
		total += math.Abs(v[rows[i]] - v[rows[i-1]])
	}
	var out [][]int
	from, sum := 0, 0.0
	for i := 1; i < len(rows); i++ {
		sum += math.Abs(v[rows[i]] - v[rows[i-1]])
		last := i == len(rows)-1
		if last || (sum >= total/float64(n) && i-from+1 >= windowRows && len(rows)-i > windowRows) {
			out = append(out, rows[from:i+1])
			from, sum = i, 0
		}
	}
	return out
}

// place finds the lag of one part: least squares of what the one reads against the other, level and gain being the whole
// overlap's. Its standard error is what the remaining difference and the signal's steepness give, with a share of its level
// for what two instruments may differ by.
func (p pair) place(m model, l likeness, at, x, y []float64, w []int, reach float64) (part, bool) {
	lo := w[0]
	slow, fast := y, p.a
	forward := p.b.period >= p.a.period // The recorder is the slower one: its rows are kept, the reference is looked up.
	if !forward {
		slow, fast = x, p.b
	}
	gain := l.spreadX / l.spreadY
	level := func(i int, v float64) float64 { // The difference in the reference's units.
		if forward {
			return v - (l.meanX + gain*(slow[i]-l.meanY))
		}
		return slow[i] - (l.meanX + gain*(v-l.meanY))
	}
	times := moved(at, func(t float64) float64 { return t + m.lag + m.drift*(t-p.pivot) })
	if !forward {
		times = at
	}
	cost := func(lag float64) (float64, float64) {
		if !forward {
			lag = -lag
		}
		v := fast.within(moved(times, func(t float64) float64 { return t + lag }))
		sum, n := 0.0, 0.0
		for _, i := range w {
			if d := level(i, v[i-lo]); !math.IsNaN(d) {
				sum, n = sum+d*d, n+1
			}
		}
		return sum / math.Max(n-1, 1), n
	}
	lag, least, bend, n, ok := bottom(cost, reach, p.slow())
	if !ok || n < 4 {
		misfit, _ := cost(0)
		return part{misfit: math.Sqrt(misfit)}, false
	}
	steep := math.Sqrt(bend / 2) // Root mean square of the signal's rate: mean squares grow by its square times the lag's.
	mean := 0.0
	for _, i := range w {
		mean += math.Abs(slow[i]) / float64(len(w))
	}
	q := part{t: at[len(at)/2], lag: lag, misfit: math.Sqrt(least), se: math.Hypot(math.Sqrt(least/n)/steep, p.loose*mean/steep)}
	q.se = math.Hypot(q.se, p.slow()/200)
	return q, true
}

// bottom finds the least of a cost over lags within reach, by ever finer steps, with its curvature. It is not ok where the least
// stands at the edge: the part says nothing of its lag.
func bottom(cost func(float64) (float64, float64), reach, slow float64) (lag, least, bend, n float64, ok bool) {
	step := reach / partSteps
	best := math.Inf(1)
	for k := -partSteps; k <= partSteps; k++ {
		if c, rows := cost(float64(k) * step); c < best && rows >= 4 {
			lag, best = float64(k)*step, c
		}
	}
	if math.IsInf(best, 0) || math.Abs(lag) >= reach-step/2 {
		return 0, 0, 0, 0, false
	}
	for ; step > slow/100 && step > 1e-4; step /= 5 {
		centre := lag
		for k := -5; k <= 5; k++ {
			x := centre + float64(k)*step/5
			if c, _ := cost(x); c < best {
				lag, best = x, c
			}
		}
	}
	// Elsewhere it must be worse by more than chance: twice the standard deviation of a mean square, each side.
	_, rows := cost(lag)
	for k := -partSteps; k <= partSteps; k++ {
		x := reach * float64(k) / partSteps
		if c, n := cost(x); math.Abs(x-lag) > reach/2 && n >= 4 && c < best*(1+4*math.Sqrt(2/math.Max(rows, 4))) {
			return 0, 0, 0, 0, false
		}
	}
	lag += vertex(cost, lag, step)
	wide := math.Max(reach/4, slow) // Wide enough that noise has no curvature of its own.
	left, _ := cost(lag - wide)
	mid, n := cost(lag)
	right, _ := cost(lag + wide)
	bend = (left - 2*mid + right) / (wide * wide)
	return lag, mid, bend, n, bend > 0
}

// vertex is how far a parabola's least through three costs lies from the middle one.
func vertex(cost func(float64) (float64, float64), at, step float64) float64 {
	left, _ := cost(at - step)
	mid, _ := cost(at)
	right, _ := cost(at + step)
	d := left - 2*mid + right
	if d <= 0 {
		return 0
	}
	return math.Max(-step, math.Min(step, step*0.5*(left-right)/d))
}

// line is a straight line through the parts' lags.
type line struct {
	lag, drift     float64 // At the pivot, and seconds a second.
	lagCI, driftCI float64 // Half widths of 95 % intervals.
	off            float64 // The share of the telling parts that do not lie on it.
	worst          float64 // The largest distance of a telling part from it, seconds.
	n              int     // Parts that it rests on,
	telling        int     // and of all those whose own lag is known to about slack.
}

// fit lays a straight line (level where n is too small or flat is set) through the parts' lags, weighted by their errors; parts
// that lie off it by more than slack and four standard errors do not count, and so many are lost besides.
func fit(parts []part, lost int, pivot, slack float64, flat bool) line {
	kept := slices.Clone(parts)
	astray := func(l line, q part) bool { return l.away(q, pivot) > math.Max(slack, 4*q.se) }
	var l line
	for range 4 {
		l = straight(kept, pivot, flat)
		kept = slices.DeleteFunc(slices.Clone(parts), func(q part) bool { return astray(l, q) })
		if len(kept) < 2 {
			l.off = 1
			break
		}
	}
	l.telling = lost
	for _, q := range parts {
		if 2*q.se > slack {
			continue // A part at rest, or drowned in noise.
		}
		l.telling++
		l.worst = math.Max(l.worst, l.away(q, pivot))
		if astray(l, q) {
			lost++
		}
	}
	l.off = math.Max(l.off, float64(lost)/math.Max(float64(l.telling), 1))
	return l
}

func (l line) away(q part, pivot float64) float64 {
	return math.Abs(q.lag - l.lag - l.drift*(q.t-pivot))
}

// straight is the weighted least squares line; its intervals are widened where the parts scatter more than their errors say.
func straight(parts []part, pivot float64, flat bool) line {
	var w, wt, wy float64
	for _, q := range parts {
		k := 1 / (q.se * q.se)
		w, wt, wy = w+k, wt+k*(q.t-pivot), wy+k*q.lag
	}
	mt, my := wt/w, wy/w
	var stt, sty float64
	for _, q := range parts {
		k, d := 1/(q.se*q.se), q.t-pivot-mt
		stt, sty = stt+k*d*d, sty+k*d*(q.lag-my)
	}
	l := line{n: len(parts)}
	free := 1
	if !flat && len(parts) >= windowsFew && stt > 0 {
		l.drift, free = sty/stt, 2
	}
	l.lag = my - l.drift*mt
	chi := 0.0
	for _, q := range parts {
		d := l.away(q, pivot) / q.se
		chi += d * d
	}
	dof := math.Max(float64(len(parts)-free), 1)
	k := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(0.975) * math.Sqrt(math.Max(1, chi/dof))
	l.lagCI, l.driftCI = k/math.Sqrt(w), math.Inf(1)
	if free == 2 {
		l.driftCI = k / math.Sqrt(stt)
	}
	return l
}
