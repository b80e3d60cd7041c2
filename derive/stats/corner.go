package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// cornerChance is how seldom noise alone makes SlopeAt leave the centred window.
const cornerChance = 0.001

// SlopeAt is the slope at a time from a parabola fitted by least squares to the points within half of it. At a corner, where the
// course breaks within the window, a centred parabola bends across the break: there the window of the same width that ends
// or begins at the time is taken, when its residual variance is smaller beyond what noise makes (F test at 0.1 %).
func SlopeAt(t, x []float64, at, half float64) float64 {
	_, slope := Local(t, x, nil, at, half, 2)
	centred, dof := residual(t, x, at-half, at+half)
	if !(centred > 0) || dof < 4 {
		return slope
	}
	best := centred
	for _, from := range []float64{at - 2*half, at} {
		v, n := residual(t, x, from, from+2*half)
		if n < 4 || !(v < best) {
			continue
		}
		f := distuv.F{D1: float64(dof), D2: float64(n)}
		if v == 0 || centred/v > f.Quantile(1-cornerChance) {
			best, slope = v, slopeOver(t, x, at, from, from+2*half)
		}
	}
	return slope
}

// residual is the variance about the parabola fitted to the points from lo to hi, and its degrees of freedom.
func residual(t, x []float64, lo, hi float64) (variance float64, dof int) {
	mid, half := (lo+hi)/2, (hi-lo)/2
	c, n := parabola(t, x, mid, half)
	if n < 4 {
		return math.NaN(), 0
	}
	sum := 0.0
	for i := Lower(t, lo); i < len(t) && t[i] <= hi; i++ {
		if !math.IsNaN(x[i]) {
			u := (t[i] - mid) / half
			r := x[i] - (c[0] + u*(c[1]+u*c[2]))
			sum += r * r
		}
	}
	return sum / float64(n-3), n - 3
}

// slopeOver is the slope at a time of the parabola over lo to hi.
func slopeOver(t, x []float64, at, lo, hi float64) float64 {
	mid, half := (lo+hi)/2, (hi-lo)/2
	c, _ := parabola(t, x, mid, half)
	return (c[1] + 2*c[2]*(at-mid)/half) / half
}

// parabola fits c0 + c1 u + c2 u², u = (t - mid)/half, to the points within half of mid, and counts them.
func parabola(t, x []float64, mid, half float64) (c [3]float64, n int) {
	var s [5]float64
	var b [3]float64
	for i := Lower(t, mid-half); i < len(t) && t[i] <= mid+half; i++ {
		if math.IsNaN(x[i]) {
			continue
		}
		n++
		u, p := (t[i]-mid)/half, 1.0
		for k := range s {
			s[k] += p
			if k < 3 {
				b[k] += p * x[i]
			}
			p *= u
		}
	}
	if n < 3 {
		return c, n
	}
	c[0], c[1] = solve(s, b, 2)
	if s[4] > 0 {
		c[2] = (b[2] - c[0]*s[2] - c[1]*s[3]) / s[4]
	}
	return c, n
}
