package stats_test

import (
	"math"
	"slices"
	"testing"

	"dynolake/derive/stats"
)

// NIST Statistical Reference Datasets, linear regression, Norris: y, x and the certified line.
var norris = [][2]float64{
	{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5}, {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6},
	{778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4}, {0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
	{557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3}, {0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1},
	{888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5}}

func TestLocalAgainstCertifiedLine(t *testing.T) {
	data := slices.Clone(norris)
	slices.SortFunc(data, func(a, b [2]float64) int {
		if a[1] < b[1] {
			return -1
		}
		return 1
	})
	x, y := make([]float64, len(data)), make([]float64, len(data))
	for i, d := range data {
		y[i], x[i] = d[0], d[1]
	}
	value, slope := stats.Local(x, y, nil, 0, math.Inf(1), 1)
	near(t, "intercept", value, -0.262323073774029, 1e-11)
	near(t, "slope", slope, 1.00211681802045, 1e-13)
	value, slope = stats.Local(x, y, nil, 500, 2000, 1)
	near(t, "value in the middle", value, -0.262323073774029+500*1.00211681802045, 1e-9)
	near(t, "slope in the middle", slope, 1.00211681802045, 1e-12)
}

// A polynomial of the fitted degree comes back exactly, on an uneven clock with missing values, far from time 0.
func TestLocalIsExact(t *testing.T) {
	f := func(x float64) float64 { return 3 - 2*x + 0.5*x*x }
	var at, x, w []float64
	for i := range 40 {
		u := float64(i)*0.1 + 0.03*float64(i%3)
		at, x, w = append(at, 1e4+u), append(x, f(u)), append(w, 1+float64(i%4))
	}
	x[20] = nan
	value, slope := stats.Local(at, x, w, 1e4+2.05, 0.6, 2)
	near(t, "value", value, f(2.05), 1e-9)
	near(t, "slope", slope, -2+2.05, 1e-8)
	near(t, "value at the end", first(stats.Local(at, x, nil, 1e4, 0.6, 2)), f(0), 1e-9)
	value, slope = stats.Local(at[:1], x[:1], nil, 1e4, 1, 2)
	near(t, "one point", value, 3, 0)
	near(t, "slope of one point", slope, nan, 0)
	near(t, "line by two points", first(stats.Local([]float64{0, 1}, []float64{5, 7}, nil, 0.25, 1, 2)), 5.5, 1e-12)
	near(t, "two values on one stamp", first(stats.Local([]float64{1, 1}, []float64{5, 7}, nil, 1, 1, 1)), 6, 1e-12)
	near(t, "no point", first(stats.Local(at, x, nil, 0, 1, 1)), nan, 0)
	near(t, "mean", first(stats.Local([]float64{0, 1, 2}, []float64{1, 2, 6}, nil, 1, 1, 0)), 3, 1e-12)
}

func first(a, _ float64) float64 { return a }

func TestLower(t *testing.T) {
	at := []float64{0, 1, 1, 2}
	for _, c := range []struct {
		at   float64
		want int
	}{{-1, 0}, {0, 0}, {0.5, 1}, {1, 1}, {1.5, 3}, {2, 3}, {3, 4}} {
		if got := stats.Lower(at, c.at); got != c.want {
			t.Errorf("Lower(%v) = %d, want %d", c.at, got, c.want)
		}
	}
}
