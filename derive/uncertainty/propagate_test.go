package uncertainty

import (
	"math"
	"math/rand/v2"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.7g, want %.7g ± %g", what, got, want, tol)
	}
}

// GUM (JCGM 100:2008) H.1, the calibration of an end gauge: l = l_s + d - l_s (δα θ + α_s δθ). Inputs 50.000623 mm with 25 nm and 215 nm with
// 9.7 nm, bounds of 1e-6/°C, 0.05 °C and 2e-6/°C, θ -0.1 °C with 0.41 °C: 32 nm with 16 degrees of freedom (the length, its figure
// and the parts of d were seen with published examples, the rest is from memory).
func TestEndGauge(t *testing.T) {
	rect := math.Sqrt(3)
	x := []float64{50.000623e6, 215, 0, 0, 11.5e-6, -0.1} // nm, nm, 1/°C, °C, 1/°C, °C.
	u := []float64{25, math.Sqrt(5.8*5.8 + 3.9*3.9 + 6.7*6.7), 1e-6 / rect, 0.05 / rect, 2e-6 / rect, 0.41}
	length := func(x []float64) float64 { return x[0] + x[1] - x[0]*(x[2]*x[5]+x[4]*x[3]) }
	near(t, "length in mm", length(x)/1e6, 50.000838, 5e-7)
	combined, z := Propagate(length, x, u)
	near(t, "combined in nm", combined, 32, 0.5)
	for i, want := range []float64{25, 9.7, 2.9, 16.6, 0, 0} {
		near(t, "effect", math.Abs(z[i]), want, 0.06)
	}
	near(t, "what most of it comes from", Share(z[0], combined), 625/1002., 0.005)
	inf := math.Inf(1)
	near(t, "degrees of freedom", math.Floor(Freedom(z, []float64{18, 25.6, 50, 2, inf, inf})), 16, 0)
	// H.1.7: two products of zero with an uncertainty count at second order, which makes 34 nm: first order does not see them.
	second := math.Hypot(combined, math.Hypot(50e6*u[2]*u[5], 50e6*u[4]*u[3]))
	near(t, "with second order", second, 34, 0.5)
	near(t, "by simulation", simulated(length, x, u, 4e5), second, 0.01*second)
}

// GUM H.2, resistance and reactance of one circuit from five readings of voltage, current and phase, whose means are correlated (from
// memory): the effects' signs make 127.732 Ω with 0.071, 219.847 with 0.295 and 254.260 with 0.236.
func TestResistanceAndReactance(t *testing.T) {
	readings := [3][5]float64{{5.007, 4.994, 5.005, 4.990, 4.999}, {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}, {1.0456, 1.0438, 1.0468, 1.0428, 1.0433}}
	var x, u []float64
	covariance := func(a, b [5]float64) float64 {
		var ma, mb, sum float64
		for i := range a {
			ma, mb = ma+a[i]/5, mb+b[i]/5
		}
		for i := range a {
			sum += (a[i] - ma) * (b[i] - mb)
		}
		return sum / 20
	}
	for _, r := range readings {
		sum := 0.0
		for _, v := range r {
			sum += v
		}
		x, u = append(x, sum/5), append(u, math.Sqrt(covariance(r, r)))
	}
	near(t, "V", u[0], 0.0032, 5e-5)
	near(t, "A", u[1], 0.0095e-3, 5e-8)
	near(t, "rad", u[2], 0.00075, 5e-6)
	for _, c := range []struct {
		name    string
		f       func(x []float64) float64
		want, u float64
	}{
		{"R", func(x []float64) float64 { return x[0] / x[1] * math.Cos(x[2]) }, 127.732, 0.071},
		{"X", func(x []float64) float64 { return x[0] / x[1] * math.Sin(x[2]) }, 219.847, 0.295},
		{"Z", func(x []float64) float64 { return x[0] / x[1] }, 254.260, 0.236},
	} {
		near(t, c.name, c.f(x), c.want, 5e-4)
		_, z := Propagate(c.f, x, u)
		sum := 0.0
		for i := range z {
			for j := range z {
				sum += z[i] * z[j] * covariance(readings[i], readings[j]) / (u[i] * u[j])
			}
		}
		near(t, "uncertainty of "+c.name, math.Sqrt(sum), c.u, 1e-3) // The Guide goes on with rounded figures; unrounded X has 0.2956.
	}
}

// simulated is the standard deviation of f where each input is drawn from a normal distribution (GUM Supplement 1, JCGM 101:2008).
func simulated(f func(x []float64) float64, x, u []float64, trials int) float64 {
	r := rand.New(rand.NewPCG(11, 12))
	draw := make([]float64, len(x))
	var mean, square float64
	for k := 1; k <= trials; k++ {
		for i := range x {
			draw[i] = x[i] + u[i]*r.NormFloat64()
		}
		v := f(draw)
		d := v - mean
		mean += d / float64(k)
		square += d * (v - mean)
	}
	return math.Sqrt(square / float64(trials-1))
}

// First order agrees with a simulation where the formula is nearly straight, and falls short of it where it is not: a ratio whose
// divisor is known to 20 %.
func TestPropagateAgainstSimulation(t *testing.T) {
	ratio := func(x []float64) float64 { return (x[0] - x[1]) / (x[2] - x[3]) }
	for name, c := range map[string]struct {
		f    func(x []float64) float64
		x, u []float64
		tol  float64
	}{
		"drive over boost":      {ratio, []float64{420, 130, 280, 98}, []float64{1.5, 0.7, 0.6, 0.3}, 0.01},
		"compressor efficiency": {func(x []float64) float64 { return x[0] * (math.Pow(x[1]/x[2], 2./7) - 1) / (x[3] - x[0]) }, []float64{298, 250, 97, 410}, []float64{1.2, 1, 0.5, 1.5}, 0.01},
		"force times speed":     {func(x []float64) float64 { return x[0] * x[1] / 3600 }, []float64{4200, 118}, []float64{25, 0.3}, 0.01},
		"divisor known to 5 %":  {func(x []float64) float64 { return x[0] / x[1] }, []float64{100, 20}, []float64{0, 1}, 0.015},
	} {
		u, _ := Propagate(c.f, c.x, c.u)
		near(t, name, simulated(c.f, c.x, c.u, 2e5)/u, 1, c.tol)
	}
	x, u := []float64{100, 20}, []float64{0, 4}
	first, _ := Propagate(func(x []float64) float64 { return x[0] / x[1] }, x, u)
	if s := simulated(func(x []float64) float64 { return x[0] / math.Max(x[1], 4) }, x, u, 2e5); !(s > 1.05*first) {
		t.Errorf("first order gives %v, a simulation %v: want first order to fall short", first, s)
	}
}

// Sums and products by hand: the differences' root of squares, the shares of the squares, and inputs left as they were.
func TestPropagateByHand(t *testing.T) {
	x := []float64{250, 98}
	u, z := Propagate(func(x []float64) float64 { return x[0] - x[1] }, x, []float64{0.6, 0.3})
	near(t, "difference", u, math.Hypot(0.6, 0.3), 1e-12)
	near(t, "effect", z[0], 0.6, 1e-12)
	near(t, "effect", z[1], -0.3, 1e-12)
	near(t, "share", Share(z[1], u), 0.09/0.45, 1e-12)
	near(t, "share of nothing", Share(0, 0), 0, 0)
	if x[0] != 250 || x[1] != 98 {
		t.Errorf("the inputs are now %v", x)
	}
	u, z = Propagate(func(x []float64) float64 { return x[0] * x[1] }, []float64{3, 4}, []float64{0.1, 0})
	near(t, "product", u, 0.4, 1e-12)
	near(t, "an exact input", z[1], 0, 0)
	// The same sensor twice is one input: its effects cancel.
	u, _ = Propagate(func(x []float64) float64 { return (x[0] + 5) - x[0] }, []float64{98}, []float64{0.5})
	near(t, "taken off itself", u, 0, 1e-12)
}

func TestEffectBesideTheValidity(t *testing.T) {
	nan := math.NaN()
	for _, c := range [][4]float64{{1, 2, 5, 2}, {nan, 2, 5, 3}, {1, 2, nan, 1}, {nan, 2, nan, nan}, {1, nan, 5, nan}} {
		if got := Effect(c[0], c[1], c[2]); got != c[3] && !(math.IsNaN(got) && math.IsNaN(c[3])) {
			t.Errorf("Effect%v = %v, want %v", c[:3], got, c[3])
		}
	}
	if !math.IsNaN(Combined(1, nan)) || Combined() != 0 {
		t.Error("Combined of a missing effect or of none")
	}
	if f := Freedom([]float64{1, 2}, []float64{math.Inf(1), math.Inf(1)}); !math.IsInf(f, 1) {
		t.Errorf("degrees of freedom %v, want infinite", f)
	}
}
