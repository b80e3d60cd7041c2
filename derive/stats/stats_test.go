package stats_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"dynolake/derive/stats"

	"github.com/google/go-cmp/cmp"
)

var nan = math.NaN()

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > tol {
		t.Errorf("%s = %.12g, want %.12g ± %g", what, got, want, tol)
	}
}

// Inputs by 40 CFR 1065.602; the quantiles of 1 to 5 by hand.
func TestOrder(t *testing.T) {
	near(t, "median of 4", stats.Median([]float64{41.861, nan, 41.515, 41.902, 41.780}), 41.8205, 1e-12)
	near(t, "median of 3", stats.Median([]float64{41.515, 41.861, 41.780}), 41.780, 0)
	near(t, "median of none", stats.Median([]float64{nan}), nan, 0)
	five := []float64{5, 3, 1, 2, 4}
	for p, want := range map[float64]float64{0: 1, 0.05: 1.2, 0.25: 2, 0.5: 3, 0.9: 4.6, 1: 5, 1.1: nan, -1: nan} {
		near(t, "quantile", stats.Quantile(p, five), want, 1e-12)
	}
	if diff := cmp.Diff([]float64{1.2, 4.8}, stats.Quantiles(five, 0.05, 0.95)); diff != "" {
		t.Error(diff)
	}
	if !slices.Equal(five, []float64{5, 3, 1, 2, 4}) {
		t.Error("the argument was changed")
	}
	near(t, "infinite", stats.Quantile(0.9, []float64{math.Inf(1), math.Inf(1), 0}), math.Inf(1), 0)
}

// The factor makes the spread of normal values their standard deviation; one wild value in nine does not move it far.
func TestSpread(t *testing.T) {
	near(t, "spread", stats.Spread([]float64{1, 2, 3, 4, nan, 5}), 1.4826, 1e-12)
	near(t, "spread with an outlier", stats.Spread([]float64{1, 2, 3, 4, 5, 1e9}), 1.4826*1.5, 1e-9)
	near(t, "spread of none", stats.Spread(nil), nan, 0)
	r := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 40000)
	for i := range x {
		x[i] = 7 + 3*r.NormFloat64()
	}
	near(t, "spread of normal values", stats.Spread(x), 3, 0.06)
}

// Student's t by the table in 40 CFR 1065.602 (three decimals), with more digits from an independent implementation.
func TestStudent(t *testing.T) {
	for df, want := range map[float64]float64{1: 12.706205, 2: 4.302653, 3: 3.182446, 4: 2.776445, 5: 2.570582, 6: 2.446912, 7: 2.364624,
		8: 2.306004, 9: 2.262157, 10: 2.228139, 15: 2.131450, 20: 2.085963, 30: 2.042272, 60: 2.000298, 120: 1.979930} {
		near(t, "t 0.975", stats.TQuantile(0.975, df), want, 6e-7)
		near(t, "t 0.025", stats.TQuantile(0.025, df), -want, 6e-7)
		near(t, "probability", stats.TProbability(want, df), 0.975, 1e-7)
	}
	for i, want := range []float64{6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812} {
		near(t, "t 0.95", stats.TQuantile(0.95, float64(i+1)), want, 5e-4)
	}
	near(t, "normal", stats.TQuantile(0.975, math.Inf(1)), 1.959964, 1e-6)
	near(t, "normal probability", stats.TProbability(1.959964, math.Inf(1)), 0.975, 1e-7)
	near(t, "middle", stats.TQuantile(0.5, 11.7576), 0, 1e-9)
	for _, bad := range [][2]float64{{0, 3}, {1, 3}, {nan, 3}, {0.5, 0}, {0.5, nan}} {
		near(t, "refused", stats.TQuantile(bad[0], bad[1]), nan, 0)
	}
	near(t, "refused", stats.TProbability(nan, 3), nan, 0)
	near(t, "refused", stats.TProbability(1, 0), nan, 0)
}
