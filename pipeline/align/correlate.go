package align

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// gridMost bounds the length of the grid on which lags are searched.
const gridMost = 1 << 18

// hill is a lag at which two traces look alike, as seen on the coarse grid.
type hill struct {
	lag     float64 // Seconds to add to b's time.
	r       float64 // Pearson correlation over the overlap.
	overlap float64 // Seconds.
}

// most is the number of hills that are looked at closely.
const most = 8

// hills lists the lags at which b lies on a, the best first: peaks of the Pearson correlation over the overlap at every lag of
// a uniform grid, by Fourier transforms of the masked traces. Lags with less than the given share of the shorter trace in
// common, or less than least seconds, are not looked at. coarse is the least step of the grid in seconds.
func hills(a, b trace, share, least, coarse float64) []hill {
	la, lb := a.t[len(a.t)-1]-a.t[0], b.t[len(b.t)-1]-b.t[0]
	step := math.Max(math.Min(a.period, b.period), (la+lb)/gridMost)
	step = math.Max(step, math.Max(coarse, 0.01))
	ga, gb := gridded(a, step), gridded(b, step)
	r, overlap := masked(ga, gb, math.Max(least, share*math.Min(la, lb))/step)
	zero := len(gb.v) - 1 // r[i] is lag i-zero grid steps.
	var found []hill
	for i, v := range r {
		if math.IsInf(v, 0) || (i > 0 && r[i-1] > v) || (i+1 < len(r) && r[i+1] >= v) {
			continue
		}
		found = append(found, hill{lag: float64(i-zero)*step + a.t[0] - b.t[0], r: v, overlap: overlap[i] * step})
	}
	slices.SortStableFunc(found, func(x, y hill) int { return cmp.Compare(y.r, x.r) })
	return apart(found, math.Max(2, 3*step))
}

// apart keeps the best hills, none on another's flank.
func apart(found []hill, away float64) []hill {
	var kept []hill
	for _, h := range found {
		near := slices.ContainsFunc(kept, func(k hill) bool { return math.Abs(k.lag-h.lag) <= away })
		if !near {
			kept = append(kept, h)
		}
		if len(kept) == most {
			break
		}
	}
	return kept
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
