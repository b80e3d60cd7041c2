package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Selection gives what sorting gives, of values of every order and with many that are equal.
func TestPickedQuantilesAreTheSortedOnes(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	orders := map[string]func(i, n int) float64{
		"scattered":   func(int, int) float64 { return r.NormFloat64() },
		"few values":  func(int, int) float64 { return float64(r.IntN(4)) },
		"rising":      func(i, _ int) float64 { return float64(i) },
		"falling":     func(i, _ int) float64 { return float64(-i) },
		"there, back": func(i, n int) float64 { return float64(min(i, n-i)) },
		"all one":     func(int, int) float64 { return 3 },
		"infinite":    func(i, _ int) float64 { return []float64{math.Inf(-1), 0, math.Inf(1)}[i%3] },
	}
	for name, value := range orders {
		for _, n := range []int{1, 2, 3, 47, 48, 49, 50, 1000, 1001} {
			x := make([]float64, n)
			for i := range x {
				x[i] = value(i, n)
			}
			want := slices.Sorted(slices.Values(x))
			for _, p := range []float64{0, 0.02, 0.05, 0.5, 0.75, 0.98, 1} {
				if got, want := Quantile(p, x), sortedQuantile(p, want); !same(got, want) {
					t.Errorf("%s, %d values: quantile %g is %v, want %v", name, n, p, got, want)
				}
			}
			got := Quantiles(x, 0.02, 0.98)
			if !same(got[0], sortedQuantile(0.02, want)) || !same(got[1], sortedQuantile(0.98, want)) {
				t.Errorf("%s, %d values: quantiles are %v, want those of the sorted values", name, n, got)
			}
		}
	}
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
