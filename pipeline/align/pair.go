package align

import "math"

// pair is one signal as two recorders logged it, compared at the rows of the slower one.
type pair struct {
	a, b  trace   // The reference's and the recorder's.
	pivot float64 // A time on the recorder's clock about which drift turns.
	loose float64 // The share by which the two may read differently and still be one signal.
}

// model is a recorder's clock on the reference's: t + lag + drift·(t − pivot), seconds.
type model struct{ lag, drift float64 }

// rowsMost bounds the rows on which a model is tried; more tell no more.
const rowsMost = 6000

// values gives the two signals side by side: the slower one's own values and the faster one's between its rows, NaN where it
// has none. at are times on the recorder's clock.
func (p pair) values(m model, every int) (x, y, at []float64) {
	if p.b.period >= p.a.period {
		at, y = strided(p.b.t, every), strided(p.b.v, every)
		return p.a.within(moved(at, func(t float64) float64 { return t + m.lag + m.drift*(t-p.pivot) })), y, at
	}
	own := func(t float64) float64 { return p.pivot + (t-m.lag-p.pivot)/(1+m.drift) }
	at, x = moved(strided(p.a.t, every), own), strided(p.a.v, every)
	return x, p.b.within(at), at
}

// stride thins the slower one's rows to what a model is tried on.
func (p pair) stride() int {
	n := len(p.b.t)
	if p.b.period < p.a.period {
		n = len(p.a.t)
	}
	return max(1, n/rowsMost)
}

func (p pair) slow() float64 { return math.Max(p.a.period, p.b.period) }

// score is the correlation under a model.
func (p pair) score(m model, every int) likeness {
	x, y, _ := p.values(m, every)
	return compare(x, y)
}

// within is at without holding the first and the last value beyond them.
func (tr trace) within(times []float64) []float64 {
	out := tr.at(times)
	for i, x := range times {
		if x < tr.t[0]-1e-9 || x > tr.t[len(tr.t)-1]+1e-9 {
			out[i] = math.NaN()
		}
	}
	return out
}

func strided(v []float64, every int) []float64 {
	if every <= 1 {
		return v
	}
	out := make([]float64, 0, len(v)/every+1)
	for i := 0; i < len(v); i += every {
		out = append(out, v[i])
	}
	return out
}

func moved(t []float64, by func(float64) float64) []float64 {
	out := make([]float64, len(t))
	for i := range t {
		out[i] = by(t[i])
	}
	return out
}

// likeness is how alike two lists of values are over the rows that both have.
type likeness struct {
	n                float64
	r                float64 // Pearson correlation, −Inf with fewer than three rows or where one stands still.
	meanX, meanY     float64
	spreadX, spreadY float64 // Standard deviations.
}

func compare(x, y []float64) likeness {
	var l likeness
	for i := range x {
		if !math.IsNaN(x[i]) && !math.IsNaN(y[i]) {
			l.n, l.meanX, l.meanY = l.n+1, l.meanX+x[i], l.meanY+y[i]
		}
	}
	l.meanX, l.meanY = l.meanX/l.n, l.meanY/l.n
	var sxx, syy, sxy float64
	for i := range x {
		if !math.IsNaN(x[i]) && !math.IsNaN(y[i]) {
			dx, dy := x[i]-l.meanX, y[i]-l.meanY
			sxx, syy, sxy = sxx+dx*dx, syy+dy*dy, sxy+dx*dy
		}
	}
	if l.n < 3 || sxx == 0 || syy == 0 {
		l.r = math.Inf(-1)
		return l
	}
	l.r, l.spreadX, l.spreadY = sxy/math.Sqrt(sxx*syy), math.Sqrt(sxx/l.n), math.Sqrt(syy/l.n)
	return l
}

// refine looks for the best lag around a model: steps over width each side, then ever finer, then a parabola's peak.
func (p pair) refine(m model, width, step float64, every int) (model, float64) {
	best, top := m, math.Inf(-1)
	try := func(lag float64) {
		c := model{lag, m.drift}
		if s := p.score(c, every).r; s > top {
			best, top = c, s
		}
	}
	for centre := m.lag; ; centre, width, step = best.lag, step, step/5 {
		n := int(math.Ceil(width / step))
		for k := -n; k <= n; k++ {
			try(centre + float64(k)*step)
		}
		if step <= p.slow()/40 || step <= 1e-4 {
			break
		}
	}
	peak := best
	left, right := p.score(model{peak.lag - step, m.drift}, every).r, p.score(model{peak.lag + step, m.drift}, every).r
	if d := left - 2*top + right; d < 0 && !math.IsInf(left+right, 0) {
		try(peak.lag + step*0.5*(left-right)/d)
	}
	return best, top
}
