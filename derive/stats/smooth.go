package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// SavitzkyGolay gives the weights by which an odd number of evenly spaced points make the value, or a derivative, at the middle one of
// the polynomial fitted to them by least squares (Savitzky and Golay 1964). Derivatives are per step of the clock: divide by its
// power. Nil unless the points are odd and more than the degree, and 0 <= derivative <= degree. For uneven clocks there is Local.
func SavitzkyGolay(points, degree, derivative int) []float64 {
	if points < 1 || points%2 == 0 || degree < 0 || degree >= points || derivative < 0 || derivative > degree {
		return nil
	}
	half := points / 2
	a := mat.NewDense(points, degree+1, nil)
	for i := range points {
		u, p := float64(i-half)/float64(max(half, 1)), 1.0
		for k := range degree + 1 {
			a.Set(i, k, p)
			p *= u
		}
	}
	var qr mat.QR
	qr.Factorize(a)
	unit, row := mat.NewDense(points, points, nil), mat.NewDense(degree+1, points, nil)
	for i := range points {
		unit.Set(i, i, 1)
	}
	if err := qr.SolveTo(row, false, unit); err != nil {
		return nil
	}
	scale := 1.0 // derivative! over the step's power, as u is in units of half.
	for k := 1; k <= derivative; k++ {
		scale *= float64(k) / float64(max(half, 1))
	}
	weights := make([]float64, points)
	for i := range weights {
		weights[i] = scale * row.At(derivative, i)
	}
	return weights
}

// Lag is by how many values b comes after a: the shift, at most most either way, at which the two are most alike, and their
// likeness there, Σ a[i]·b[i+shift] / √(Σ a[i]² · Σ b[i+shift]²) over the pairs present, from -1 to 1. Take the means off first where
// the level should not count. At least half of the shorter series must overlap. Both evenly sampled on one clock. NaN likeness: none.
func Lag(a, b []float64, most int) (shift int, likeness float64) {
	likeness = math.NaN()
	for d := 0; d <= most; d++ { // From no shift outwards, so that of equals the smallest wins.
		for _, k := range []int{d, -d} {
			_, r, n := Product(a, b, k)
			if 2*n >= min(len(a), len(b)) && n > 0 && (math.IsNaN(likeness) || r > likeness) && !math.IsNaN(r) {
				shift, likeness = k, r
			}
		}
	}
	return shift, likeness
}

// Product is Σ a[i]·b[i+shift] over the n pairs present, and the same over the root of the product of the two sums of squares.
func Product(a, b []float64, shift int) (sum, likeness float64, n int) {
	aa, bb := 0.0, 0.0
	for i := max(0, -shift); i < len(a) && i+shift < len(b); i++ {
		if p := a[i] * b[i+shift]; !math.IsNaN(p) {
			sum, aa, bb, n = sum+p, aa+a[i]*a[i], bb+b[i+shift]*b[i+shift], n+1
		}
	}
	return sum, sum / math.Sqrt(aa*bb), n
}
