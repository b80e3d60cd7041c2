package stats

import "math"

// Mean is the arithmetic mean of the values present (40 CFR 1065.602(b)). NaN without values.
func Mean(x []float64) float64 { return Summary(x).Mean }

// SD is the standard deviation of the values present, with n - 1 (40 CFR 1065.602(c)). NaN for fewer than two values.
func SD(x []float64) float64 { return Summary(x).SD }

// RMS is the root of the mean square of the values present (40 CFR 1065.602(d)). NaN without values.
func RMS(x []float64) float64 {
	n, sum := 0, 0.0
	for _, v := range x {
		if !math.IsNaN(v) {
			n, sum = n+1, sum+v*v
		}
	}
	return math.Sqrt(sum / float64(n))
}

// Accuracy is how far the mean of the values present lies from a reference, unsigned (40 CFR 1065.602(e)). NaN without values.
func Accuracy(reference float64, x []float64) float64 { return math.Abs(reference - Mean(x)) }

// Autocorrelation is the correlation of a series with itself lag values later, over the whole series' mean and sum of squares.
// Pairs with a missing value are left out. NaN for a constant series, or where no pair is left.
func Autocorrelation(x []float64, lag int) float64 {
	if lag < 0 {
		lag = -lag
	}
	mean := Mean(x)
	pairs, sum, square := 0, 0.0, 0.0
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		square += (v - mean) * (v - mean)
		if i >= lag && !math.IsNaN(x[i-lag]) {
			pairs, sum = pairs+1, sum+(v-mean)*(x[i-lag]-mean)
		}
	}
	if pairs == 0 || square == 0 {
		return math.NaN()
	}
	return sum / square
}

// Sample sums up a group of values: of pulls, say, the mean of each.
type Sample struct {
	N        int     // Values present.
	Mean, SD float64 // SD with n - 1; NaN for fewer than two values, Mean for none.
}

// Summary sums up the values present in two passes, so that a spread far smaller than the mean keeps its digits.
func Summary(x []float64) Sample {
	n, sum := 0, 0.0
	for _, v := range x {
		if !math.IsNaN(v) {
			n, sum = n+1, sum+v
		}
	}
	mean := sum / float64(n)
	rest, square := 0.0, 0.0
	for _, v := range x {
		if !math.IsNaN(v) {
			rest, square = rest+(v-mean), square+(v-mean)*(v-mean)
		}
	}
	s := Sample{N: n, Mean: mean + rest/float64(n), SD: math.NaN()}
	if n > 1 {
		s.SD = math.Sqrt(max(0, square-rest*rest/float64(n)) / float64(n-1))
	}
	return s
}

// Estimate is the mean with its standard error and n - 1 degrees of freedom.
func (s Sample) Estimate() Estimate {
	return Estimate{Value: s.Mean, SE: s.SD / math.Sqrt(float64(s.N)), DF: float64(s.N - 1)}
}

// Next is the estimate of one more value of the same kind: its interval is a prediction interval.
func (s Sample) Next() Estimate {
	return Estimate{Value: s.Mean, SE: s.SD * math.Sqrt(1+1/float64(s.N)), DF: float64(s.N - 1)}
}
