package stats

import (
	"cmp"
	"math"
	"slices"
)

// Present returns a copy of the values that are not missing.
func Present(x []float64) []float64 {
	out := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return out
}

// Quantile is the p-quantile, 0 <= p <= 1, of the values present: linear between order statistics with the lowest value at
// p = 0 and the highest at p = 1 (Hyndman and Fan 1996, definition 7; what SQL calls a continuous percentile). NaN without values.
func Quantile(p float64, x []float64) float64 {
	return pickQuantile(p, Present(x))
}

// Quantiles are several quantiles of the same values.
func Quantiles(x []float64, p ...float64) []float64 {
	s, out := Present(x), make([]float64, len(p))
	quantile := pickQuantile
	if len(s) <= fewToPick || len(p) > 3 {
		slices.Sort(s)
		quantile = sortedQuantile
	}
	for i := range p {
		out[i] = quantile(p[i], s)
	}
	return out
}

// Median is the middle of the values present, or the mean of the two in the middle. NaN without values.
func Median(x []float64) float64 { return Quantile(0.5, x) }

// IQR is the distance from the first to the third quartile of the values present (Quantile's definition). NaN without values.
func IQR(x []float64) float64 {
	q := Quantiles(x, 0.25, 0.75)
	return q[1] - q[0]
}

// MAD is the median of the distances from the median. NaN without values.
func MAD(x []float64) float64 {
	d := Present(x)
	m := pickQuantile(0.5, d)
	for i := range d {
		d[i] = math.Abs(d[i] - m)
	}
	return pickQuantile(0.5, d)
}

// Spread estimates the standard deviation from the median absolute deviation: 1.4826 MAD, the factor of 40 CFR
// 1037.528(g)(1). It is 0 where more than half of the values are equal, NaN without values.
func Spread(x []float64) float64 { return sigmaPerMAD * MAD(x) }

// sigmaPerMAD makes the MAD of normal values their standard deviation; 1.4826 is the rounding that 40 CFR 1037.528 states.
const sigmaPerMAD = 1.4826

// sortBy orders indices by a key, equal keys by index.
func sortBy(order []int, key func(i int) float64) {
	slices.SortFunc(order, func(i, j int) int { return cmp.Or(cmp.Compare(key(i), key(j)), i-j) })
}

func sortedQuantile(p float64, s []float64) float64 {
	if len(s) == 0 || math.IsNaN(p) || p < 0 || p > 1 {
		return math.NaN()
	}
	h := p * float64(len(s)-1)
	i := int(h)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	if s[i] == s[i+1] {
		return s[i] // Also keeps two infinities from giving NaN.
	}
	return s[i] + (h-float64(i))*(s[i+1]-s[i])
}
