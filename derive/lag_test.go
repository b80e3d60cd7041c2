package derive

import (
	"math"
	"testing"

	"dynolake/schema"
)

// probed is a run with fuel cuts in which a probe of first order follows a gas that cools at once from 620 °C to 180 °C.
func probed(tau, noise float64) (f *schema.Frame, gas []float64) {
	const dt = 0.05
	n := 2400
	t, fuel, read := make([]float64, n), make([]float64, n), make([]float64, n)
	gas = make([]float64, n)
	y, seed := 620.0, uint32(3)
	for i := range n {
		t[i] = float64(i) * dt
		gas[i], fuel[i] = 620, 25
		if math.Mod(t[i], 40) >= 30 {
			gas[i], fuel[i] = 180, 0
		}
		for range 50 {
			y += (gas[i] - y) * dt / 50 / tau
		}
		seed = seed*1664525 + 1013904223
		read[i] = y + noise*(float64(seed>>8)/(1<<24)-0.5)
	}
	f = schema.NewFrame(t)
	f.Set("fuel_kg_h", fuel)
	f.Set("turbine_in_c", read)
	return f, gas
}

func TestLagIsEstimated(t *testing.T) {
	for _, tau := range []float64{0.6, 1.5, 4} {
		f, _ := probed(tau, 2)
		found := byCode(Columns(f, Context{Run: schema.Run{BaroKPa: math.NaN()}, Vehicle: &schema.Vehicle{Lag: map[string]schema.Lag{"turbine_in_c": {}}}}))
		near(t, "tau", found["lag_estimated"].Value, tau, 0.03*tau)
		if f.Has("turbine_in_fast_c") {
			t.Error("a corrected column that nobody asked for")
		}
	}
}

func TestLagIsTakenOffWhereAsked(t *testing.T) {
	for name, lag := range map[string]schema.Lag{"estimated": {Correct: true}, "stated": {TimeS: 1.5, Correct: true}} {
		f, gas := probed(1.5, 0.5)
		before := append([]float64(nil), f.Column("turbine_in_c")...)
		Columns(f, Context{Run: schema.Run{BaroKPa: math.NaN()}, Vehicle: &schema.Vehicle{Lag: map[string]schema.Lag{"turbine_in_c": lag}}})
		fast := f.Column("turbine_in_fast_c")
		at := 632 // 1.6 s after the cut, where the probe itself still reads 330 °C.
		if math.Abs(fast[at]-gas[at]) > 15 || math.Abs(before[at]-gas[at]) < 100 {
			t.Errorf("%s: gas %g, probe %g, corrected %g", name, gas[at], before[at], fast[at])
		}
		for i, v := range f.Column("turbine_in_c") {
			if v != before[i] {
				t.Fatalf("%s: row %d of the logged column was changed", name, i)
			}
		}
	}
}

func TestLagNeedsACut(t *testing.T) {
	f, _ := probed(1.5, 0)
	fuel := f.Column("fuel_kg_h")
	for i := range fuel {
		fuel[i] = 25
	}
	found := byCode(Columns(f, Context{Run: schema.Run{BaroKPa: math.NaN()}, Vehicle: &schema.Vehicle{Lag: map[string]schema.Lag{"turbine_in_c": {Correct: true}}}}))
	if _, ok := found["lag_unknown"]; !ok || f.Has("turbine_in_fast_c") {
		t.Errorf("without a fuel cut: %+v", found)
	}
	if e, _ := Decay([]float64{0, 1, 2, 3, 4, 5, 6, 7}, []float64{1, 2, 3, 4, 5, 6, 7, 8}); !math.IsNaN(e.Value) {
		t.Errorf("a straight line has a time constant of %g s", e.Value)
	}
}
