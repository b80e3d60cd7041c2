package align

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// gridMost bounds the length of the grid on which lags are searched.
const gridMost = 1 << 18

// match is the best lag between two traces of one signal.
type match struct {
	lag     float64 // Seconds to add to b's time.
	r       float64 // Pearson correlation over the overlap at that lag.
	rival   float64 // The best correlation at a lag well away from it.
	overlap float64 // Seconds.
}

// correlate finds the lag at which b lies on a: Pearson correlation over the overlap at every lag of a uniform grid, by
// Fourier transforms of the masked traces, then refined between grid points. Lags with less than half of the shorter
// trace in common are not looked at.
func correlate(a, b trace) match {
	la, lb := a.t[len(a.t)-1]-a.t[0], b.t[len(b.t)-1]-b.t[0]
	step := math.Max(math.Min(a.period, b.period), (la+lb)/gridMost)
	step = math.Max(step, 0.01)
	ga, gb := gridded(a, step), gridded(b, step)
	least := math.Max(sharedMin/step, 0.5*math.Min(la, lb)/step)
	r, overlap := masked(ga, gb, least)
	k, best := -1, math.Inf(-1)
	for i, v := range r {
		if v > best {
			k, best = i, v
		}
	}
	if k < 0 || math.IsInf(best, 0) {
		return match{}
	}
	away := int(math.Max(2/step, 3))
	rival, other := math.Inf(-1), -1
	for i, v := range r {
		// A rival is a separate hill: the flank of the same one does not count.
		if (i < k-away || i > k+away) && v > rival && (i == 0 || r[i-1] <= v) && (i+1 == len(r) || r[i+1] <= v) {
			rival, other = v, i
		}
	}
	zero := len(gb.v) - 1 // r[i] is lag i-zero grid steps.
	coarse := float64(k-zero)*step + a.t[0] - b.t[0]
	lag, top := refine(a, b, coarse, step)
	if math.IsInf(rival, 0) {
		rival = 0
	} else if top-rival < sureLead { // As finely as the best one, where it comes to that.
		_, fine := refine(a, b, float64(other-zero)*step+a.t[0]-b.t[0], step)
		rival = math.Max(rival, fine)
	}
	return match{lag: lag, r: top, rival: rival, overlap: overlap[k] * step}
}

// sure tells whether the lag may be believed: a high correlation over enough time, and a rival that is lower by a clear step or
// that leaves several times as much unexplained, as when pull after pull looks alike but for its details.
func (m match) sure() bool {
	apart := m.r-m.rival >= sureLead || 1-m.rival*m.rival >= sureTimes*math.Max(1-m.r*m.r, 1e-6)
	return m.r >= sureR && apart && m.overlap >= sharedMin
}

type grid struct {
	v, on []float64 // Value (0 where missing) and 1 where present.
}

func gridded(tr trace, step float64) grid {
	n := int((tr.t[len(tr.t)-1]-tr.t[0])/step) + 1
	times := make([]float64, n)
	for i := range times {
		times[i] = tr.t[0] + float64(i)*step
	}
	g := grid{v: tr.at(times), on: make([]float64, n)}
	mean, count := 0.0, 0.0
	for _, v := range g.v {
		if !math.IsNaN(v) {
			mean, count = mean+v, count+1
		}
	}
	mean /= math.Max(count, 1)
	for i, v := range g.v {
		if math.IsNaN(v) {
			g.v[i] = 0
		} else {
			g.v[i], g.on[i] = v-mean, 1 // Centred, so that the sums of squares keep their digits.
		}
	}
	return g
}

// masked gives, for each lag from -(len(b)-1) to len(a)-1, the correlation over the rows that both have, and their number.
func masked(a, b grid, least float64) (r, overlap []float64) {
	lags := len(a.v) + len(b.v) - 1
	n := 1 << bits.Len(uint(lags))
	fft := fourier.NewFFT(n)
	spectrum := func(v []float64, power int, reverse bool) []complex128 {
		x := make([]float64, n)
		for i, y := range v {
			if power == 2 {
				y *= y
			}
			if reverse {
				x[len(v)-1-i] = y
			} else {
				x[i] = y
			}
		}
		return fft.Coefficients(nil, x)
	}
	cross := func(p, q []complex128) []float64 {
		for i := range p {
			q[i] *= p[i]
		}
		x := fft.Sequence(nil, q)
		for i := range x {
			x[i] /= float64(n)
		}
		return x[:lags]
	}
	av, av2, aon := spectrum(a.v, 1, false), spectrum(a.v, 2, false), spectrum(a.on, 1, false)
	rev := func(v []float64, power int) []complex128 { return spectrum(v, power, true) }
	count := cross(aon, rev(b.on, 1))
	sa, saa := cross(av, rev(b.on, 1)), cross(av2, rev(b.on, 1))
	sb, sbb := cross(aon, rev(b.v, 1)), cross(aon, rev(b.v, 2))
	sab := cross(av, rev(b.v, 1))
	r, overlap = make([]float64, lags), count
	for i := range r {
		r[i] = math.Inf(-1)
		m := math.Round(count[i])
		if m < least {
			continue
		}
		va, vb := saa[i]/m-sa[i]/m*sa[i]/m, sbb[i]/m-sb[i]/m*sb[i]/m
		if va > 1e-9 && vb > 1e-9 {
			r[i] = (sab[i]/m - sa[i]/m*sb[i]/m) / math.Sqrt(va*vb)
		}
	}
	return r, overlap
}

// refine looks between grid points: b's own rows against a interpolated, in steps of a twentieth, then a parabola's peak.
func refine(a, b trace, coarse, step float64) (lag, r float64) {
	const parts = 20
	fine := step / parts
	score := func(lag float64) float64 { return pearson(a.at(shifted(b.t, lag)), b.v) }
	best, top := coarse, math.Inf(-1)
	for k := -2 * parts; k <= 2*parts; k++ {
		x := coarse + float64(k)*fine
		if s := score(x); s > top {
			best, top = x, s
		}
	}
	left, right := score(best-fine), score(best+fine)
	if d := left - 2*top + right; d < 0 {
		best += fine * 0.5 * (left - right) / d
	}
	return best, top
}

func pearson(x, y []float64) float64 {
	var n, sx, sy float64
	for i := range x {
		if !math.IsNaN(x[i]) {
			n, sx, sy = n+1, sx+x[i], sy+y[i]
		}
	}
	mx, my := sx/n, sy/n
	var sxx, syy, sxy float64
	for i := range x {
		if !math.IsNaN(x[i]) {
			dx, dy := x[i]-mx, y[i]-my
			sxx, syy, sxy = sxx+dx*dx, syy+dy*dy, sxy+dx*dy
		}
	}
	if n < 3 || sxx == 0 || syy == 0 {
		return math.Inf(-1)
	}
	return sxy / math.Sqrt(sxx*syy)
}
