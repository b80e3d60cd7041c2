package derive

import (
	"math"
	"testing"

	"dynolake/schema"
)

// The filter's columns by hand: 150 g/s of gas at 560 °C and 130 kPa are 0.276 m³/s; 12 kPa over it, that at the viscosity of
// 25 °C by the US Standard Atmosphere's law, and 12 of 32 kPa of back pressure.
func TestFilterColumns(t *testing.T) {
	f := frame(map[string][]float64{"maf_g_s": {140, 140}, "fuel_kg_h": {36, 36}, "dpf_delta_kpa": {12, 1}, "dpf_in_c": {560, 560}, "turbine_out_kpa": {130, 99.9}, "baro_kpa": {98, 98}})
	Columns(f, unstated())
	flow := 0.150 * 287.055 * 833.15 / 130e3
	mu := func(k float64) float64 { return math.Pow(k, 1.5) / (k + 110.4) }
	near(t, "resistance", f.Column("dpf_resist")[0], 12/flow, 1e-9)
	near(t, "referred resistance", f.Column("dpf_resist_ref")[0], 12/flow*mu(298.15)/mu(833.15), 1e-9)
	near(t, "share", f.Column("dpf_share_frac")[0], 12./32, 1e-9)
	if v := f.Column("dpf_share_frac")[1]; !math.IsNaN(v) {
		t.Errorf("of 1.9 kPa the share is %v, want none", v)
	}
}

// Brake thermal efficiency is 3600 over consumption and heating value (Heywood eq. 2.24, from memory): 200 g/kWh of 42.8 MJ/kg are
// 0.42056.
func TestBrakeEfficiencyColumn(t *testing.T) {
	torque := 100 * TorqueSpeed / 2000 // 100 kW.
	columns := map[string][]float64{"engine_speed_rpm": {2000}, "engine_torque_nm": {torque}, "fuel_kg_h": {20}}
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{FuelHeatingMJKg: 42.8}
	f := frame(columns)
	Columns(f, ctx)
	near(t, "efficiency", f.Column("brake_eff_frac")[0], 0.42056, 5e-6)
	ctx.Vehicle.FuelHeatingMJKg = 0
	f = frame(columns)
	if Columns(f, ctx); f.Has("brake_eff_frac") {
		t.Error("an efficiency without the fuel's heating value")
	}
}

// A probe of first order behind a ramp of 10 K/s reads τ times that too low: taking the lag off gives the ramp back.
func TestUnlaggedOutletColumn(t *testing.T) {
	const n, tau = 200, 3.0
	read := make([]float64, n)
	for i := range read {
		read[i] = 400 + 10*(0.1*float64(i)-tau)
	}
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{Lag: map[string]schema.Lag{"turbine_out_c": {TimeS: tau, Correct: true}}}
	f := frame(map[string][]float64{"turbine_out_c": read})
	Columns(f, ctx)
	fast := f.Column("turbine_out_fast_c")
	if fast == nil {
		t.Fatal("no corrected column")
	}
	for _, i := range []int{50, 100, 150} {
		near(t, "temperature", fast[i], 400+10*0.1*float64(i), 1e-6)
	}
	want(t, f, map[string][]float64{"turbine_out_c": read})
}

// A filter that held 20 g has burnt when a tenth, 2 g, is gone; one that held 4 g when 1 g is, however little its tenth is.
func TestSootThatBurns(t *testing.T) {
	for _, c := range []struct {
		from, to float64
		want     bool
	}{{20, 17.9, true}, {20, 18.2, false}, {4, 2.9, true}, {4, 3.2, false}} {
		const n = 400
		heat, soot := make([]float64, n), make([]float64, n)
		f := schema.NewFrame(make([]float64, n))
		for i := range heat {
			f.T[i] = float64(i)
			heat[i], soot[i] = 250, c.from
			if i >= 100 && i < 300 {
				heat[i] = 610
			}
			if i >= 100 {
				soot[i] = c.from + (c.to-c.from)*min(1, float64(i-100)/195)
			}
		}
		f.Set("dpf_in_c", heat)
		f.Set("soot_g", soot)
		Columns(f, unstated())
		if got := f.Column("regen_active_frac")[200] == 1; got != c.want {
			t.Errorf("from %v to %v g: regenerates %v, want %v", c.from, c.to, got, c.want)
		}
	}
}

// A gap within one gear is bridged up to 0.3 s, late in a run as well as early.
func TestDwellBridgesShortGaps(t *testing.T) {
	for gap, want := range map[int]bool{1: true, 6: false} {
		w := &work{Frame: schema.NewFrame(nil)}
		var g []float64
		for i := range 100 {
			w.T = append(w.T, 20+0.1*float64(i))
			g = append(g, 3)
		}
		for i := 50; i < 50+gap; i++ {
			g[i] = nan
		}
		w.dwell(g)
		if got := !math.IsNaN(g[50]); got != want || g[49] != 3 || g[50+gap] != 3 {
			t.Errorf("a gap of %d rows: bridged %v, want %v", gap, got, want)
		}
	}
}

// All ratios may be off by one scale, above or below: tyres are worn or tall, speedometers read high.
func TestGearOffsetEitherWay(t *testing.T) {
	known := []float64{math.Log(4), math.Log(2.2), math.Log(1.4), 0}
	for _, off := range []float64{-0.05, 0.05} {
		var values []float64
		for i := range 400 {
			values = append(values, known[i/100]+off)
		}
		near(t, "offset", gearOffset(values, known), off, 1e-9)
	}
}

// A ratio is smoothed by a median: one row that is off does not show.
func TestRatioIsSmoothed(t *testing.T) {
	w := &work{Frame: schema.NewFrame(nil), period: 0.05}
	var x []float64
	for i := range 100 {
		w.T, x = append(w.T, 0.05*float64(i)), append(x, 1.2)
	}
	x[50], x[70] = 1.9, nan
	got := w.smooth(x)
	near(t, "a row that is off", got[50], 1.2, 1e-12)
	near(t, "beside it", got[49], 1.2, 1e-12)
	if !math.IsNaN(got[70]) {
		t.Errorf("a missing ratio is %v", got[70])
	}
}

// A regeneration's flag is on from 0.5 and stays on down to 0.25.
func TestRegenerationFlagLevels(t *testing.T) {
	var clock []float64
	for i := range 60 {
		clock = append(clock, 0.5*float64(i))
	}
	for _, c := range []struct {
		high, low float64
		want      [2]float64 // While high, and while low after it.
	}{{0.5, 0.26, [2]float64{1, 1}}, {0.5, 0.24, [2]float64{1, 0}}, {0.49, 0.26, [2]float64{0, 0}}} {
		flag := make([]float64, 60)
		for i := range flag {
			switch {
			case i >= 40:
				flag[i] = c.low
			case i >= 20:
				flag[i] = c.high
			}
		}
		got := Regenerating(clock, flag)
		if got[30] != c.want[0] || got[50] != c.want[1] || got[10] != 0 {
			t.Errorf("%v then %v: %v and %v, want %v", c.high, c.low, got[30], got[50], c.want)
		}
	}
}
