package align

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

const (
	// sureR is the least correlation of the shared signal at which a shift is believed.
	sureR = 0.9
	// sureAlone is the same where less than half of the shorter log is shared, or where the two read differently.
	sureAlone = 0.99
	// sureLead is how far the best lag must stand above the best one elsewhere.
	sureLead = 0.01
	// sureTimes is how often the unexplained share of the variance, 1 - r², must be left by the best lag elsewhere otherwise.
	sureTimes = 4
	// sharedMin is the least overlap of a shared signal, seconds, that a shift may rest on.
	sharedMin = 5.0
	// driftMost is the largest clock-rate error that is believed: no recorder's clock is off by 2 in 1000.
	driftMost = 2e-3
	// slackLeast is how far, seconds, a part's own lag may lie from the rest's, where the slower recorder's step is no longer.
	slackLeast = 0.15
	// offMost is the share of the overlap's telling parts that may want another lag than the rest.
	offMost = 0.2
	// tellingFew is the least number of those where the shared time is short, and all of them must agree.
	tellingFew = 3
	// longEnough is the overlap, seconds, from which the largest drift smears a signal enough to hide its best lag.
	longEnough = 240.0
	// hopeless is a correlation that no drift explains: the largest smears a signal, it does not undo it.
	hopeless = 0.4
	// nearby is how far the recorders' own dates and times may be off, seconds, to decide between like lags.
	nearby = 10.0
)

// match is the best lag between two traces of one signal.
type match struct {
	model
	pivot   float64
	r       float64 // Pearson correlation over the overlap.
	rival   float64 // The best correlation at a lag well away from it.
	overlap float64 // Seconds.
	share   float64 // The overlap's share of the shorter log.
	line    line    // Through the parts' own lags; n is 0 where there are too few rows for parts.
	ratio   float64 // Spread of the recorder's values over the reference's.
	slack   float64
	byClock bool // The recorders' dates and times decided between like lags.
}

// correlate finds the lag at which b lies on a, and the drift where the overlap tells one. hint is the lag by the recorders' own
// dates and times, NaN when there is none; it decides only where the signal leaves several lags open.
func correlate(a, b trace, loose, hint float64) match {
	p := pair{a: a, b: b, pivot: (b.t[0] + b.t[len(b.t)-1]) / 2, loose: loose}
	m := p.best(hills(a, b, 0.5, sharedMin, 0), math.NaN())
	if m.sure() {
		return m
	}
	if long := math.Min(length(a), length(b)); long >= longEnough && m.r < sureAlone {
		if d := p.best(p.stretched(long), math.NaN()); d.r > m.r {
			m = d
		}
		if m.sure() {
			return m
		}
	}
	part := hills(a, b, 0.2, 2*sharedMin, 0)
	if s := p.best(part, math.NaN()); s.sure() && s.r > m.r {
		return s
	}
	if !math.IsNaN(hint) {
		if h := p.best(part, hint); h.sure() {
			h.byClock = true
			return h
		}
	}
	return m
}

func length(t trace) float64 { return t.t[len(t.t)-1] - t.t[0] }

// stretched looks for hills with the recorder's clock stretched, in steps that smear the signal by a fifth of a second at most.
func (p pair) stretched(long float64) []hill {
	var found []hill
	n := int(math.Ceil(driftMost * long / 2 / 0.4))
	for k := -n; k <= n; k++ {
		d := driftMost * float64(k) / float64(n)
		b := p.b
		b.t = moved(p.b.t, func(t float64) float64 { return t + d*(t-p.pivot) })
		found = append(found, hills(p.a, b, 0.5, sharedMin, long/(1<<14))...)
	}
	slices.SortStableFunc(found, func(x, y hill) int { return cmp.Compare(y.r, x.r) })
	return apart(found, math.Max(2, driftMost*long))
}

// best looks at the hills closely, and at the best of them part by part. Where near is a number only hills close to it count.
func (p pair) best(found []hill, near float64) match {
	type candidate struct {
		model
		r, overlap float64
	}
	var tried []candidate
	top := math.Inf(-1)
	for _, h := range found {
		if h.r < top-0.3 || math.Abs(h.lag-near) > nearby {
			continue
		}
		m, r := p.polish(model{lag: h.lag})
		top = math.Max(top, r)
		tried = append(tried, candidate{m, r, h.overlap})
	}
	slices.SortStableFunc(tried, func(x, y candidate) int { return cmp.Compare(y.r, x.r) })
	if len(tried) == 0 {
		return match{rival: math.NaN(), r: math.NaN()}
	}
	c := tried[0]
	m := match{model: c.model, pivot: p.pivot, r: c.r, overlap: c.overlap, slack: math.Max(slackLeast, p.slow())}
	m.share = c.overlap / math.Min(length(p.a), length(p.b))
	for _, o := range tried[1:] {
		if math.Abs(o.lag-c.lag) > 2 {
			m.rival = math.Max(m.rival, o.r)
		}
	}
	p.settle(&m)
	return m
}

// polish refines a hill's lag, and where the overlap is long a first estimate of the drift with it.
func (p pair) polish(m model) (model, float64) {
	every := p.stride()
	step := math.Max(p.slow()/8, 0.02)
	best, top := p.refine(m, 3*math.Max(p.slow(), step), step, every)
	long := math.Min(length(p.a), length(p.b))
	if long < longEnough || top > 0.9999 || top < hopeless {
		return best, top
	}
	coarse := max(every, p.stride()*3)
	n := min(int(math.Ceil(driftMost*long/2/0.25)), 40) // Steps that smear the signal by a quarter of a second.
	from, start := best, p.score(best, coarse).r
	for k := -n; k <= n; k++ {
		d := driftMost * float64(k) / float64(n)
		for shift := -n; shift <= n; shift++ {
			c := model{from.lag + driftMost*long/2*float64(shift)/float64(n), d}
			if r := p.score(c, coarse).r; r > start+1e-6 {
				best, start = c, r
			}
		}
	}
	if best != from {
		fine, r := p.refine(best, 0.5, 0.05, every)
		if r > top {
			return fine, r
		}
		return from, top
	}
	return best, top
}

// settle places the overlap part by part: whether the parts agree, and what drift they tell.
func (p pair) settle(m *match) {
	for range 3 {
		reach := math.Max(1.5, 3*p.slow())
		parts, lost := p.parts(m.model, reach)
		if len(parts) < 2 {
			break
		}
		m.line = fit(parts, lost, m.pivot, m.slack, false)
		if m.line.off > offMost || math.Abs(m.line.drift) > 2*driftMost {
			break
		}
		moved := model{m.lag + m.line.lag, m.drift}
		if m.line.n >= windowsFew {
			moved.drift += m.line.drift
		}
		done := math.Abs(m.line.lag) < 1e-4 && math.Abs(m.line.drift)*length(p.b) < 1e-4
		m.model = moved
		if done {
			break
		}
	}
	if m.drift != 0 && !(math.Abs(m.drift) > m.line.driftCI) {
		p.level(m)
	}
	l := p.score(m.model, p.stride())
	m.r, m.ratio = l.r, l.spreadY/l.spreadX
}

// level takes the drift out again: it is no larger than its interval.
func (p pair) level(m *match) {
	m.drift = 0
	if parts, lost := p.parts(m.model, math.Max(1.5, 3*p.slow())); len(parts) >= 2 {
		ci := m.line.driftCI
		m.line = fit(parts, lost, m.pivot, m.slack, true)
		m.lag, m.line.driftCI = m.lag+m.line.lag, ci
	}
}

// sure tells whether the lag may be believed.
func (m match) sure() bool { return m.doubt() == "" }

// doubt says why a lag is not believed, empty when it is: a high correlation over enough time, parts that want one lag, and a rival
// that is lower by a clear step or leaves several times as much unexplained, as when pull after pull looks alike but for details.
func (m match) doubt() string {
	need, short := sureR, m.share < 0.49
	if short || m.ratio < 0.8 || m.ratio > 1.25 {
		need = sureAlone
	}
	switch {
	case math.IsNaN(m.r):
		return "correlates with nothing: it does not move in one of the two, or they share too little of it"
	case !(m.r >= need):
		return fmt.Sprintf("correlates %.3f, wanted %.2f", m.r, need)
	case m.overlap < sharedMin:
		return fmt.Sprintf("is shared for %.1f s only, wanted %.0f s", m.overlap, sharedMin)
	case !m.apart():
		return fmt.Sprintf("correlates %.4f, and %.4f at another lag: nothing tells which", m.r, m.rival)
	case m.line.n > 0 && m.line.off > offMost:
		return fmt.Sprintf("correlates %.4f, but its parts want lags that differ by %.2f s and more: it is another recording, or a clock that jumped", m.r, m.line.worst)
	case short && (m.line.telling < tellingFew || m.line.off > 0 || m.ratio < 0.9 || m.ratio > 1.1):
		return fmt.Sprintf("correlates %.4f over %.0f s, too short a time for so little to go by", m.r, m.overlap)
	case math.Abs(m.drift) > driftMost:
		return fmt.Sprintf("would need a clock that is off by %.0f ppm, more than any recorder's", 1e6*m.drift)
	}
	return ""
}

func (m match) apart() bool { return m.r-m.rival >= sureLead || m.confidence() >= 1-1.0/sureTimes }

// confidence is the share of what the next best lag leaves unexplained that the best one explains.
func (m match) confidence() float64 {
	if m.rival <= 0 {
		return 1
	}
	return 1 - math.Max(1-m.r*m.r, 1e-6)/math.Max(1-m.rival*m.rival, 1e-6)
}
