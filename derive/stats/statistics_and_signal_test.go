package stats_test

import (
	"math"
	"slices"
	"testing"

	"dynolake/derive/stats"
)

// Worked values of 40 CFR 1065.602 to the digits it prints.
func TestCFR1065602(t *testing.T) {
	x := []float64{10.60, 11.91, 11.09}
	near(t, "mean (b)", stats.Mean(x), 11.20, 5e-3)
	near(t, "standard deviation (c)", stats.SD(x), 0.6619, 5e-5)
	near(t, "root mean square (d)", stats.RMS(x), 11.21, 5e-3)
	near(t, "accuracy (e)", stats.Accuracy(1800.0, []float64{1806.4, 1803.1, 1798.9}), 2.8, 5e-2)
	welch := stats.Welch(stats.Sample{N: 7, Mean: 1123.8, SD: 10.583}, stats.Sample{N: 11, Mean: 1205.3, SD: 9.399})
	near(t, "unpaired t (f)", welch.T(), 16.63, 5e-3)
	near(t, "its degrees of freedom", welch.DF, 11.76, 5e-3)
	near(t, "unpaired t, more digits", welch.T(), 16.6254, 5e-5) // Computed independently from the same inputs.
	near(t, "its degrees of freedom, more digits", welch.DF, 11.7576, 5e-5)
	paired := stats.Sample{N: 16, Mean: -0.12580, SD: 0.04837}.Estimate()
	near(t, "paired t", math.Abs(paired.T()), 10.403, 5e-4)
	near(t, "its degrees of freedom", paired.DF, 15, 0)
	near(t, "intercept", intercept(1050.1, 1.0110, 1055.3), -16.8083, 5e-5)
	near(t, "median of four", stats.Median([]float64{41.515, 41.780, 41.861, 41.902}), 41.8205, 1e-12)
	near(t, "median of three", stats.Median([]float64{41.515, 41.780, 41.861}), 41.780, 0)
}

// intercept fits a line that has the given means and slope.
func intercept(y, slope, x float64) float64 {
	return stats.FitLine([]float64{x - 7, x + 7}, []float64{y - 7*slope, y + 7*slope}).Intercept.Value
}

// NIST/SEMATECH e-Handbook, AUTO83B: Welch's t and its degrees of freedom as printed; the pooled t from memory, its spread computed.
func TestAUTO83B(t *testing.T) {
	usa, japan := stats.Sample{N: 249, Mean: 20.14458, SD: 6.41470}, stats.Sample{N: 79, Mean: 30.48101, SD: 6.10771}
	welch, pooled := stats.Welch(japan, usa), stats.Pooled(japan, usa)
	near(t, "Welch t", welch.T(), -12.94627, 5e-5) // The inputs have five decimals: two units in t's last.
	near(t, "Welch degrees of freedom", welch.DF, 136.87499, 5e-4)
	near(t, "pooled t", pooled.T(), -12.62059, 5e-5)
	near(t, "pooled degrees of freedom", pooled.DF, 326, 0)
	near(t, "pooled deviation", pooled.SE/math.Sqrt(1/249.0+1/79.0), 6.342601, 1e-5)
}

// Savitzky and Golay's tables (1964; several independent tables agree): numerators over their norm.
func TestSavitzkyGolay(t *testing.T) {
	for _, c := range []struct {
		degree, derivative int
		norm               float64
		half               []float64 // From the first point to the middle.
	}{
		{2, 0, 35, []float64{-3, 12, 17}}, {3, 0, 35, []float64{-3, 12, 17}},
		{2, 0, 21, []float64{-2, 3, 6, 7}}, {3, 0, 21, []float64{-2, 3, 6, 7}},
		{2, 0, 231, []float64{-21, 14, 39, 54, 59}}, {3, 0, 231, []float64{-21, 14, 39, 54, 59}},
		{2, 0, 429, []float64{-36, 9, 44, 69, 84, 89}}, {3, 0, 429, []float64{-36, 9, 44, 69, 84, 89}},
		{2, 1, 10, []float64{-2, -1, 0}}, {2, 1, 28, []float64{-3, -2, -1, 0}}, {2, 1, 60, []float64{-4, -3, -2, -1, 0}}, {2, 1, 110, []float64{-5, -4, -3, -2, -1, 0}},
		{3, 1, 12, []float64{1, -8, 0}}, {4, 1, 12, []float64{1, -8, 0}},
		{3, 1, 252, []float64{22, -67, -58, 0}}, {4, 1, 252, []float64{22, -67, -58, 0}},
		{3, 1, 1188, []float64{86, -142, -193, -126, 0}}, {4, 1, 1188, []float64{86, -142, -193, -126, 0}},
	} {
		n := 2*len(c.half) - 1
		w := stats.SavitzkyGolay(n, c.degree, c.derivative)
		sign := 1.0
		if c.derivative == 1 {
			sign = -1
		}
		sum, slope, cubic := 0.0, 0.0, 0.0
		for i, got := range w {
			want := c.half[min(i, n-1-i)] / c.norm
			if i > n/2 {
				want *= sign
			}
			near(t, "weight", got, want, 1e-13)
			u := float64(i - n/2)
			sum, slope, cubic = sum+got, slope+got*u, cubic+got*(2+u-u*u+0.5*u*u*u)
		}
		if c.derivative == 0 {
			near(t, "smoothing weights in all", sum, 1, 1e-12)
			near(t, "a cubic's middle", cubic, 2, 1e-11)
		} else {
			near(t, "derivative weights in all", sum, 0, 1e-12)
			near(t, "slope of y = x", slope, 1, 1e-12)
		}
	}
	near(t, "second derivative of a square", stats.SavitzkyGolay(5, 2, 2)[0]*4+stats.SavitzkyGolay(5, 2, 2)[1]*1, 1, 1e-12) // By symmetry half of it.
	for _, bad := range [][3]int{{4, 2, 0}, {5, 5, 0}, {5, 2, 3}, {-1, 0, 0}, {5, -1, 0}, {5, 2, -1}} {
		if w := stats.SavitzkyGolay(bad[0], bad[1], bad[2]); w != nil {
			t.Errorf("%v gives %v", bad, w)
		}
	}
	if !slices.Equal(stats.SavitzkyGolay(1, 0, 0), []float64{1}) {
		t.Error("one point is itself")
	}
}

// Computed by hand: a bump shifted right by three.
func TestLag(t *testing.T) {
	a := []float64{0, 0, 1, 2, 3, 2, 1, 0, 0, 0, 0, 0}
	b := append([]float64{0, 0, 0}, a[:9]...)
	shift, likeness := stats.Lag(a, b, 5)
	sum, r, n := stats.Product(a, b, 3)
	if shift != 3 || n != 9 {
		t.Errorf("lag %d over %d pairs, want 3 over 9", shift, n)
	}
	near(t, "likeness", likeness, 1, 1e-15)
	near(t, "its sum", sum, 19, 0)
	near(t, "its likeness", r, 1, 1e-15)
	near(t, "lag at a step of 0.1 s", 0.1*float64(shift), 0.3, 1e-15)
	for k := -5; k <= 5; k++ {
		if s, _, _ := stats.Product(a, b, k); k != 3 && s >= 19 {
			t.Errorf("the sum at %d is %v", k, s)
		}
	}
	if back, _ := stats.Lag(b, a, 5); back != -3 {
		t.Errorf("the other way round: %d", back)
	}
	b[5] = nan
	if shift, _ := stats.Lag(a, b, 5); shift != 3 {
		t.Errorf("with a missing value: %d", shift)
	}
	if _, r := stats.Lag(nil, nil, 3); !math.IsNaN(r) {
		t.Errorf("of nothing: %v", r)
	}
}

// 40 CFR 1037.528(g)(1): the median over ±3 s, σ = 1.4826 MAD, rejected beyond 3σ = 4.4478 MAD and replaced by the median.
func TestHampel(t *testing.T) {
	var at, x []float64
	for i := range 201 {
		at, x = append(at, 0.1*float64(i)), append(x, 20+float64(i%5))
	}
	// In the window of ±3 s (61 values, 0 to 4 above 20 nearly evenly) the median is 22 and the MAD 1: the limit is 22 ± 4.4478.
	x[100], x[50], x[150], x[120] = 22+4.4479, 22-4.4479, 22+4.4477, nan
	clean, off := stats.Hampel(at, x, 3, 3)
	if !slices.Equal(off, []int{50, 100}) {
		t.Errorf("flagged %v, want 50 and 100", off)
	}
	near(t, "replaced", clean[100], 22, 0)
	near(t, "kept", clean[150], 22+4.4477, 0)
	near(t, "missing", clean[120], nan, 0)
	near(t, "the argument", x[100], 22+4.4479, 0)
	flat := []float64{1, 1, 1, 1, 5, 1, 1}
	if _, off := stats.Hampel(at[:7], flat, 3, 3); off != nil {
		t.Errorf("a held signal gives %v", off)
	}
	// Against the definition, window by window, on an uneven clock with missing values.
	at, x = at[:0], x[:0]
	for i := range 300 {
		v := math.Sin(float64(i)/20) + 0.1*math.Sin(float64(i*i))
		if i%37 == 0 {
			v += 3
		}
		if i%11 == 0 {
			v = nan
		}
		at, x = append(at, 0.1*float64(i)+0.04*float64(i%3)), append(x, v)
	}
	clean, off = stats.Hampel(at, x, 1.3, 3)
	var want []int
	for i := range x {
		var w []float64
		for j := range x {
			if at[j] >= at[i]-1.3 && at[j] <= at[i]+1.3 {
				w = append(w, x[j])
			}
		}
		m := stats.Median(w)
		if math.Abs(x[i]-m) > 3*stats.Spread(w) {
			want = append(want, i)
			near(t, "replaced", clean[i], m, 1e-12)
		}
	}
	if !slices.Equal(off, want) || len(want) < 5 {
		t.Errorf("flagged %v, want %v", off, want)
	}
}
