package derive

import (
	"math"
	"testing"

	"dynolake/schema"
)

func TestVariationIsAboutTheLine(t *testing.T) {
	var times, p []float64
	for i := range 100 {
		at := float64(i) / 100
		times, p = append(times, at), append(p, 200+30*at+2*math.Sqrt2*math.Sin(2*math.Pi*10*at))
	}
	near(t, "variation", Variation(times, p), 2.0/215, 2.0/215*0.03) // A sine of effective value 2 about a rising 215; the line takes a little of it.
	if got := Variation(times[:9], p[:9]); !math.IsNaN(got) {
		t.Errorf("of nine values: %g", got)
	}
}

// pulsing is 20 s at steady speed; from 12 s to 14 s the pressure pulses as in surge.
func pulsing(hz, surge, ramp float64) *schema.Frame {
	n := int(20 * hz)
	f := schema.NewFrame(make([]float64, n))
	rpm, p := make([]float64, n), make([]float64, n)
	seed := uint32(9)
	for i := range n {
		at := float64(i) / hz
		f.T[i], rpm[i] = at, 2000+ramp*at
		seed = seed*1664525 + 1013904223
		p[i] = 220 + 0.8*(float64(seed>>8)/(1<<24)-0.5)
		if at >= 12 && at < 14 {
			p[i] += surge * math.Sin(2*math.Pi*11*at)
		}
	}
	f.Set("engine_speed_rpm", rpm)
	f.Set("compressor_out_kpa", p)
	return f
}

func TestSurgeIsSuspected(t *testing.T) {
	for name, c := range map[string]struct {
		hz, surge, ramp float64
		column, want    bool
	}{
		"surge":             {200, 25, 0, true, true},
		"quiet":             {200, 0, 0, true, false},
		"logged too slowly": {50, 25, 0, false, false},
		"speed rises":       {200, 25, 800, false, false},
	} {
		f := pulsing(c.hz, c.surge, c.ramp)
		found := byCode(Columns(f, Context{Run: schema.Run{BaroKPa: 100}}))
		s, ok := found["surge_suspected"]
		if f.Has("surge_cov_frac") != c.column || ok != c.want {
			t.Errorf("%s: column %t, finding %+v", name, f.Has("surge_cov_frac"), s)
		}
		if ok && (s.T0S < 11 || s.T1S > 15 || math.Abs(s.Value-25/math.Sqrt2/220) > 0.01) {
			t.Errorf("%s: %+v", name, s)
		}
	}
}
