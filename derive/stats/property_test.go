package stats_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"dynolake/derive/stats"
)

// figures are what can be asked of one group of values, and how each follows a·x + b: to a^power, and with b where it is a place.
var figures = []struct {
	name  string
	f     func(x []float64) float64
	scale float64
	place bool
}{
	{"mean", stats.Mean, 1, true}, {"median", stats.Median, 1, true}, {"SD", stats.SD, 1, false}, {"MAD", stats.MAD, 1, false}, {"spread", stats.Spread, 1, false}, {"IQR", stats.IQR, 1, false},
	{"upper quantile", func(x []float64) float64 { return stats.Quantile(0.9, x) }, 1, true},
	{"mean's upper end", func(x []float64) float64 { return stats.Summary(x).Estimate().Interval(0.95).Hi }, 1, true},
	{"next value's lower end", func(x []float64) float64 { return stats.Summary(x).Next().Interval(0.95).Lo }, 1, true},
	{"Welch's t", func(x []float64) float64 { return stats.Welch(stats.Summary(x[:3]), stats.Summary(x[3:])).T() }, 0, false},
	{"pooled t", func(x []float64) float64 { return stats.Pooled(stats.Summary(x[:3]), stats.Summary(x[3:])).T() }, 0, false},
	{"autocorrelation", func(x []float64) float64 { return stats.Autocorrelation(x, 1) }, 0, false},
	{"isotonic top", func(x []float64) float64 { return slices.Max(stats.Isotonic(x, nil)) }, 1, true},
	{"slope", func(x []float64) float64 { return stats.FitLine(bins(len(x)), x).Slope.Value }, 1, false},
	{"intercept", func(x []float64) float64 { return stats.FitLine(bins(len(x)), x).Intercept.Value }, 1, true},
	{"height's upper end", func(x []float64) float64 { return stats.FitLine(bins(len(x)), x).At(2).Interval(0.95).Hi }, 1, true},
}

func TestScaleAndShift(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 50 {
		x := normal(r, 4+r.IntN(12), 2)
		a, b := math.Exp(2*r.NormFloat64()), 100*r.NormFloat64()
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = a*v + b
		}
		for _, g := range figures {
			want := g.f(x) * math.Pow(a, g.scale)
			if g.place {
				want += b
			}
			near(t, g.name, g.f(y), want, 1e-9*(1+math.Abs(want)+math.Abs(b)))
		}
	}
}

// The order of pulls, and values missing among them, change nothing; a mirrored comparison is mirrored.
func TestOrderAndMissing(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	x := normal(r, 9, 2)
	y := append(slices.Clone(x), nan, nan)
	r.Shuffle(len(y), func(i, j int) { y[i], y[j] = y[j], y[i] })
	for _, g := range figures[:9] {
		near(t, g.name, g.f(y), g.f(x), 1e-12)
	}
	base, candidate := mixed.pulls(r, 4, 20, 1, flat), mixed.pulls(r, 5, 20, 1, flat)
	candidate[2][7], candidate[4] = nan, candidate[4][:12]
	first := stats.Compare(base, candidate, 0.95)
	slices.Reverse(base)
	candidate[0], candidate[2] = candidate[2], candidate[0]
	again, back := stats.Compare(base, candidate, 0.95), stats.Compare(candidate, base, 0.95)
	axis := bins(20)
	for i := range first.Band {
		near(t, "band after another order", again.Band[i].Lo, first.Band[i].Lo, 0.05) // The same draws, handed to other gaps.
		near(t, "pointwise", again.Pointwise[i].Lo, first.Pointwise[i].Lo, 1e-12)
		near(t, "mirrored", -back.Pointwise[i].Hi, first.Pointwise[i].Lo, 1e-12)
	}
	if len(first.Bins) != 20 || first.Bins[7].DF >= first.Bins[6].DF+3 {
		t.Errorf("%d bins", len(first.Bins))
	}
	near(t, "the mean counts shared bins", first.Mean.Value, again.Mean.Value, 1e-12)
	rise := func(x float64) float64 { return 0.1 * x }
	pulls := mixed.pulls(r, 5, 20, 0.1, rise)
	one, bent := stats.Crossing(axis, pulls, 1, 0.95), stats.Bend(axis, pulls, 0.95)
	slices.Reverse(pulls)
	near(t, "crossing", stats.Crossing(axis, pulls, 1, 0.95).Hi, one.Hi, 1e-9)
	near(t, "knee", stats.Bend(axis, pulls, 0.95).At, bent.At, 1e-6)
}

// Nothing and one value give NaN where two are needed, never a panic.
func TestTooFew(t *testing.T) {
	for name, x := range map[string][]float64{"none": nil, "missing": {nan, nan}} {
		for _, f := range []func(x []float64) float64{stats.Mean, stats.SD, stats.RMS, stats.Median, stats.MAD, stats.IQR, stats.Spread} {
			near(t, name, f(x), nan, 0)
		}
		near(t, name, stats.Accuracy(3, x), nan, 0)
		near(t, name, stats.Autocorrelation(x, 1), nan, 0)
		near(t, name, stats.FitLine(x, x).Slope.Value, nan, 0)
		near(t, name, stats.FitProportional(x, x).Slope.Value, nan, 0)
		near(t, name, stats.Regress(x, x).Coefficients[0].Value, nan, 0)
		near(t, name, stats.Jackknife(0, func([]int) float64 { return 1 }).Value, nan, 0)
		near(t, name, stats.Welch(stats.Summary(x), stats.Summary(x)).Interval(0.95).Lo, nan, 0)
		near(t, name, stats.Pooled(stats.Summary(x), stats.Summary(x)).Interval(0.95).Lo, nan, 0)
		near(t, name, stats.Crossing(x, [][]float64{x}, 1, 0.95).At, nan, 0)
		near(t, name, stats.Bend(x, [][]float64{x}, 0.95).At, nan, 0)
		if c := stats.Compare([][]float64{x}, nil, 0.95); c.Verdict() != stats.Open || len(c.Band) != len(x) {
			t.Errorf("%s: %v", name, c)
		}
		if clean, off := stats.Hampel(make([]float64, len(x)), x, 1, 3); len(clean) != len(x) || off != nil {
			t.Errorf("%s: %v %v", name, clean, off)
		}
		if y := stats.Isotonic(x, nil); len(y) != len(x) {
			t.Errorf("%s: %v", name, y)
		}
	}
	one := stats.Summary([]float64{3})
	near(t, "mean of one", one.Mean, 3, 0)
	near(t, "SD of one", one.SD, nan, 0)
	near(t, "its interval", one.Estimate().Interval(0.95).Lo, nan, 0)
	five := stats.Summary([]float64{1, 2, 3, 4, 5})
	near(t, "Welch with one pull", stats.Welch(one, five).Interval(0.95).Hi, nan, 0)
	near(t, "its probability", stats.Welch(one, five).P(), nan, 0)
	near(t, "pooled with one pull", stats.Pooled(one, five).DF, 4, 0)
	near(t, "bootstrap of three", stats.Bootstrap(3, 0.95, func([]int) float64 { return 1 }).Lo, nan, 0)
	near(t, "jackknife of one", stats.Jackknife(1, func([]int) float64 { return 2 }).SE, nan, 0)
	near(t, "one pull's crossing", stats.Crossing(bins(5), [][]float64{{0, 1, 2, 3, 4}}, 2.5, 0.95).At, 2.5, 1e-12)
	near(t, "its interval", stats.Crossing(bins(5), [][]float64{{0, 1, 2, 3, 4}}, 2.5, 0.95).Lo, nan, 0)
	c := stats.Compare([][]float64{{1, 2, 3}}, [][]float64{{2, 3, 4}, {2, 3, 5}}, 0.95)
	if c.Bins[0].Value != 1 || !math.IsNaN(c.Band[0].Lo) || c.Verdict() != stats.Open {
		t.Errorf("one pull against two: %+v", c)
	}
}

// Without scatter a difference is exact, and rounding is none.
func TestNoScatter(t *testing.T) {
	a, b := [][]float64{{400, 410}, {400, 410}, {400, 410}}, [][]float64{{440, 410}, {440, 410}}
	c := stats.Compare(a, b, 0.95)
	if c.Pointwise[0] != (stats.Interval{Lo: 40, Hi: 40}) || c.Band[0] != c.Pointwise[0] || c.Pointwise[0].Verdict() != stats.Gain || c.Pointwise[1].Verdict() != stats.Open || c.Verdict() != stats.Gain {
		t.Errorf("got %+v: %s", c, c.Verdict())
	}
	x, y := stats.Summary([]float64{0.1, 0.1, 0.1}), stats.Summary([]float64{0.3 / 3, 0.1, 0.30000000000000004 / 3})
	if got := stats.Welch(x, y).Interval(0.95).Verdict(); got != stats.Open {
		t.Errorf("rounding is a %s", got)
	}
	near(t, "probability of nothing", stats.Welch(x, y).P(), 1, 0)
	near(t, "probability of a difference", stats.Welch(x, stats.Summary([]float64{2, 2})).P(), 0, 0)
}

func TestVerdict(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for _, c := range []struct {
		name  string
		truth func(x float64) float64
		want  stats.Verdict
		where stats.Verdict
	}{
		{"even gain", func(float64) float64 { return 5 }, stats.Gain, stats.Gain}, {"even loss", func(float64) float64 { return -5 }, stats.Loss, stats.Loss},
		{"nothing", flat, stats.Open, stats.Open}, {"turns", func(x float64) float64 { return 8 - x }, stats.Mixed, stats.Mixed},
		{"a hump", func(x float64) float64 { return 6 * math.Exp(-(x-8)*(x-8)/4) }, stats.Gain, stats.Gain},
	} {
		x := stats.Compare(mixed.pulls(r, 5, 17, 1, flat), mixed.pulls(r, 5, 17, 1, c.truth), 0.95)
		where, bins := x.Where()
		if got := x.Verdict(); got != c.want || where != c.where || (where == stats.Open) != (len(bins) == 0) {
			t.Errorf("%s: %q, the band %q in %v", c.name, got, where, bins)
		}
	}
	near(t, "an interval without ends", float64(len(stats.Interval{Lo: nan, Hi: nan}.Verdict())), float64(len(stats.Open)), 0)
}

// R's documentation of p.adjust has such an example; by hand: 4·0.005, 3·0.01, 2·0.03, then 0.04 raised to 0.06.
func TestHolm(t *testing.T) {
	got := stats.Holm([]float64{0.01, 0.04, nan, 0.03, 0.005})
	for i, want := range []float64{0.03, 0.06, nan, 0.06, 0.02} {
		near(t, "Holm", got[i], want, 1e-15)
	}
	near(t, "at most", stats.Holm([]float64{0.7, 0.9})[0], 1, 0)
}

func TestIsotonic(t *testing.T) {
	for i, want := range []float64{1, 2.5, 2.5, 2.5, nan, 6} {
		near(t, "by hand", stats.Isotonic([]float64{1, 4, 1.5, 2, nan, 6}, nil)[i], want, 1e-12)
	}
	near(t, "weighted", stats.Isotonic([]float64{3, 1}, []float64{3, 1})[0], 2.5, 1e-12)
	r := rand.New(rand.NewPCG(7, 7))
	for range 200 {
		n := 1 + r.IntN(30)
		y, w := normal(r, n, 1), make([]float64, n)
		for i := range w {
			w[i] = 0.5 + r.Float64()
		}
		fit := stats.Isotonic(y, w)
		if !slices.IsSorted(fit) {
			t.Fatalf("%v falls", fit)
		}
		again, rest, product := stats.Isotonic(fit, w), 0.0, 0.0
		for i := range fit {
			near(t, "a rising sequence stays", again[i], fit[i], 1e-12)
			rest += w[i] * (y[i] - fit[i])
			product += w[i] * (y[i] - fit[i]) * fit[i]
			if rest > 1e-9 && i < n-1 && fit[i] != fit[i+1] || rest < -1e-9 { // What makes it the nearest one (Barlow and others 1972, from memory).
				t.Fatalf("the rest is %g after %d of %v", rest, i, fit)
			}
		}
		near(t, "rest in all", rest, 0, 1e-9)
		near(t, "rest along the fit", product, 0, 1e-9)
	}
}

func TestCrossing(t *testing.T) {
	x := []float64{10, 20, 30, 40, 50}
	inf := math.Inf(1)
	for _, c := range []struct {
		name       string
		pulls      [][]float64
		height     float64
		at, lo, hi float64
	}{
		{"without scatter", [][]float64{{1, 2, 3, 4, 5}, {1, 2, 3, 4, 5}}, 2.5, 25, 25, 25},
		{"not reached", [][]float64{{1, 2, 3, 4, 5}, {1, 2, 3, 4, 5}}, 9, inf, inf, inf},
		{"from the start", [][]float64{{1, 2, 3, 4, 5}, {1, 2, 3, 4, 5}}, 0.5, -inf, -inf, -inf},
		{"one reaches it", [][]float64{{1, 2, 3, 4, 5}, {0.9, 1.5, 2, 2, 2.2}, {0.8, 1.7, 2, 2.5, 3}}, 4, inf, math.NaN(), inf},
		{"missing bins", [][]float64{{nan, 2, 3, 4}, {1, 2, nan, 4, 5}}, 2.5, 25, 25, 25},
		{"a dip", [][]float64{{1, 3, 2, 4, 5}, {1, 3, 2, 4, 5}}, 2.5, 25, 25, 25},
	} {
		p := stats.Crossing(x, c.pulls, c.height, 0.95)
		if p.At != c.at || !math.IsNaN(c.lo) && (math.Abs(p.Lo-c.lo) > 1e-9 || p.Hi != c.hi && math.Abs(p.Hi-c.hi) > 1e-9) || p.Hi != p.Hi {
			t.Errorf("%s: %+v, want %v from %v to %v", c.name, p, c.at, c.lo, c.hi)
		}
		if math.IsNaN(c.lo) && !(p.Lo > 10 && p.Lo < 50 && p.Hi == inf) {
			t.Errorf("%s: %+v", c.name, p)
		}
	}
}

func TestBend(t *testing.T) {
	x := bins(12)
	bent := func(at, below, more float64) []float64 {
		y := make([]float64, len(x))
		for i := range y {
			y[i] = 3 + below*x[i] + more*math.Max(0, x[i]-at)
		}
		return y
	}
	k := stats.Bend(x, [][]float64{bent(6.37, 1, 2), bent(6.37, 1.2, 2.2)}, 0.95)
	near(t, "knee", k.At, 6.37, 1e-6)
	near(t, "slope below", k.Below, 1.1, 1e-6)
	near(t, "slope above", k.Above, 3.2, 1e-6)
	if math.Abs(k.Lo-6.37) > 1e-5 || math.Abs(k.Hi-6.37) > 1e-5 {
		t.Errorf("the interval of an exact knee is %+v", k.Interval)
	}
	one := stats.Bend(x, [][]float64{bent(6.37, 1, 2)}, 0.95)
	if one.P > 1e-6 || math.Abs(one.Lo-6.37) > 1e-5 {
		t.Errorf("one pull: %+v", one)
	}
	r := rand.New(rand.NewPCG(8, 8))
	straight := stats.Bend(x, white.pulls(r, 6, 12, 0.5, func(x float64) float64 { return x }), 0.95)
	if straight.P < 0.01 || straight.Hi-straight.Lo < 5 {
		t.Errorf("a straight line bends at %+v", straight)
	}
}

// The same data give the same interval, however often they are asked and in whatever order they come.
func TestBootstrapRepeats(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	x := normal(r, 9, 1)
	median := func(pick []int) float64 {
		y := make([]float64, 0, 9)
		for _, i := range pick {
			y = append(y, x[i])
		}
		return stats.Median(y)
	}
	a, b := stats.Bootstrap(9, 0.95, median, x), stats.Bootstrap(9, 0.95, median, x)
	if a != b || !a.Holds(stats.Median(x)) || a.Lo < slices.Min(x) || a.Hi > slices.Max(x) {
		t.Errorf("%v and %v of %v", a, b, x)
	}
	if none := stats.Bootstrap(9, 0.95, func(pick []int) float64 { // Missing in too many draws.
		if pick[0] < 2 {
			return nan
		}
		return 1
	}, x); !math.IsNaN(none.Lo) {
		t.Errorf("got %v", none)
	}
	jack := stats.Jackknife(9, func(pick []int) float64 {
		sum := 0.0
		for _, i := range pick {
			sum += x[i]
		}
		return sum / float64(len(pick))
	})
	near(t, "a mean's jackknife error", jack.SE, stats.SD(x)/3, 1e-12) // Exactly, by algebra.
}
