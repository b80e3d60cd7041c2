package stats

import "math"

// Local fits a polynomial of degree 0, 1 or 2 by least squares to the points within half of the place at, and gives its
// value and slope there. Times t must not decrease; w weighs the points and may be nil. The degree falls with the number of
// distinct points; without a point both results are NaN, with one the slope is.
//
// A degree of 1 does not shift a ramp in time and 2 does not flatten a peak, as a running mean would do at the ends of a
// stretch and on an uneven clock.
func Local(t, x, w []float64, at, half float64, degree int) (value, slope float64) {
	var s [5]float64 // Sums of w u^k with u the distance from at, in units of half.
	var b [3]float64 // Sums of w u^k x.
	scale := half
	if math.IsInf(half, 1) || half == 0 {
		scale = 1
	}
	n, last := 0, math.Inf(-1)
	for i := Lower(t, at-half); i < len(t) && t[i] <= at+half; i++ {
		if math.IsNaN(x[i]) {
			continue
		}
		if t[i] > last {
			n, last = n+1, t[i]
		}
		u, p := (t[i]-at)/scale, 1.0
		if w != nil {
			p = w[i]
		}
		for k := range s {
			s[k] += p
			if k < 3 {
				b[k] += p * x[i]
			}
			p *= u
		}
	}
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	value, slope = solve(s, b, min(degree, n-1))
	return value, slope / scale
}

// solve gives the first two coefficients of the normal equations; a singular system falls back to a lower degree.
func solve(s [5]float64, b [3]float64, degree int) (c0, c1 float64) {
	if degree >= 2 {
		m00 := s[2]*s[4] - s[3]*s[3]
		m01 := s[1]*s[4] - s[2]*s[3]
		m02 := s[1]*s[3] - s[2]*s[2]
		det := s[0]*m00 - s[1]*m01 + s[2]*m02
		if det > 1e-12*s[0]*s[2]*s[4] {
			c0 = (b[0]*m00 - b[1]*m01 + b[2]*m02) / det
			c1 = (-b[0]*m01 + b[1]*(s[0]*s[4]-s[2]*s[2]) - b[2]*(s[0]*s[3]-s[1]*s[2])) / det
			return c0, c1
		}
	}
	if degree >= 1 {
		if det := s[0]*s[2] - s[1]*s[1]; det > 1e-12*s[0]*s[2] {
			return (b[0]*s[2] - b[1]*s[1]) / det, (s[0]*b[1] - s[1]*b[0]) / det
		}
	}
	return b[0] / s[0], math.NaN()
}

// Lower is the first index whose time is not before at; times must not decrease.
func Lower(t []float64, at float64) int {
	lo, hi := 0, len(t)
	for lo < hi {
		if mid := (lo + hi) / 2; t[mid] < at {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}
