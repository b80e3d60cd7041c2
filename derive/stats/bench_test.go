package stats_test

import (
	"math/rand/v2"
	"testing"

	"dynolake/derive/stats"
)

// A quarter of an hour at 10 Hz.
func BenchmarkHampel(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	at, x := make([]float64, 9000), normal(r, 9000, 1)
	for i := range at {
		at[i] = 0.1 * float64(i)
	}
	for b.Loop() {
		stats.Hampel(at, x, 3, 3)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/9000, "ns/row")
}

func BenchmarkLocal(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	at, x := make([]float64, 9000), normal(r, 9000, 1)
	for i := range at {
		at[i] = 0.1 * float64(i)
	}
	b.ReportAllocs()
	for b.Loop() {
		for i := range at {
			stats.Local(at, x, nil, at[i], 0.25, 2)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/9000, "ns/row")
}

func BenchmarkWelch(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 3))
	x, y := normal(r, 5, 1), normal(r, 5, 1)
	b.ReportAllocs()
	for b.Loop() {
		stats.Welch(stats.Summary(x), stats.Summary(y)).Interval(0.95)
	}
}

// Two calibrations of five pulls over 60 bins of engine speed.
func BenchmarkCompare(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 4))
	base, candidate := mixed.pulls(r, 5, 60, 1, flat), mixed.pulls(r, 5, 60, 1, flat)
	for b.Loop() {
		stats.Compare(base, candidate, 0.95)
	}
}

func BenchmarkCrossing(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 5))
	x, pulls := bins(60), mixed.pulls(r, 5, 60, 0.1, func(x float64) float64 { return 0.05 * x })
	for b.Loop() {
		stats.Crossing(x, pulls, 1.5, 0.95)
	}
}

func BenchmarkBend(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 6))
	x, pulls := bins(60), mixed.pulls(r, 5, 60, 0.1, func(x float64) float64 { return 0.05*x + 0.1*max(0, x-30) })
	for b.Loop() {
		stats.Bend(x, pulls, 0.95)
	}
}

func bins(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = float64(i)
	}
	return x
}
