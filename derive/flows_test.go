package derive

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"dynolake/schema"
)

// van is a four-cylinder of 1.968 L; all its figures are invented.
func van() *schema.Vehicle {
	return &schema.Vehicle{DisplacementL: 1.968, Cylinders: 4, Strokes: 4, FuelStoichRatio: 14.6, VolumetricEfficiency: 0.9, DrivelineEfficiency: 0.8}
}

// engine is one row in which every derived column can be told, and what each is by its formula, reckoned by hand beside it.
func engineRows() map[string][]float64 {
	return map[string][]float64{
		"baro_kpa": {98}, "engine_speed_rpm": {3000}, "map_kpa": {250}, "charge_c": {46.85}, "maf_g_s": {120}, "fuel_kg_h": {21.6}, "egr_pct": {0},
		"inlet_kpa": {95}, "inlet_c": {26.85}, "compressor_out_kpa": {256.5}, "compressor_out_c": {156.85}, "ambient_c": {20}, "turbine_in_kpa": {300}, "turbine_in_c": {626.85},
		"turbine_out_kpa": {118}, "dpf_delta_kpa": {9}, "dpf_in_c": {476.85}, "wheel_power_kw": {72}, "lambda_ratio": {1.4},
	}
}

func TestEngineColumns(t *testing.T) {
	ctx := unstated()
	ctx.Vehicle = van()
	f := frame(engineRows())
	if got := codes(Columns(f, ctx)); !slices.Equal(got, []string{"engine_power_from_wheel"}) {
		t.Errorf("findings %v", got)
	}
	ideal := 250 * 1.968 * 3000 / (120 * 287.055 * 320) // kg/s.
	exhaust := 0.120 + 0.006
	want(t, f, map[string][]float64{
		"air_kg_h": {432}, "afr_ratio": {20}, "lambda_calc_ratio": {20 / 14.6}, "ve_frac": {0.120 / ideal},
		"compressor_eff_frac": {300 * (math.Pow(2.7, 0.4/1.4) - 1) / 130}, "corrected_air_kg_s": {0.120 * math.Sqrt(300./298) / 0.95},
		"cooler_eff_frac": {110 / 136.85}, "cooler_drop_kpa": {6.5}, "turbine_flow": {exhaust * 30 / 300}, "bsfc_g_kwh": {240},
		"bmep_kpa": {4 * math.Pi * (90000 / (2 * math.Pi * 50)) / 1.968}, "dpf_resist": {9 / (exhaust * 287.055 * 750 / 118000)},
	})
}

// An input that is missing in a row leaves out what stands on it, in that row and nothing else.
func TestEngineColumnsMiss(t *testing.T) {
	all := []string{"air_kg_h", "afr_ratio", "lambda_calc_ratio", "ve_frac", "compressor_eff_frac", "corrected_air_kg_s", "cooler_eff_frac", "cooler_drop_kpa", "turbine_flow", "bsfc_g_kwh", "bmep_kpa", "dpf_resist"}
	for input, lost := range map[string][]string{
		"engine_speed_rpm": {"ve_frac", "bmep_kpa"}, "map_kpa": {"ve_frac", "cooler_drop_kpa"}, "charge_c": {"ve_frac", "cooler_eff_frac"}, "egr_pct": {"ve_frac"},
		"maf_g_s": {"air_kg_h", "afr_ratio", "lambda_calc_ratio", "ve_frac", "corrected_air_kg_s", "turbine_flow", "dpf_resist"}, "fuel_kg_h": {"afr_ratio", "lambda_calc_ratio", "turbine_flow", "bsfc_g_kwh", "dpf_resist"},
		"inlet_kpa": {"compressor_eff_frac", "corrected_air_kg_s"}, "inlet_c": {"compressor_eff_frac", "corrected_air_kg_s"}, "compressor_out_kpa": {"compressor_eff_frac", "cooler_drop_kpa"},
		"compressor_out_c": {"compressor_eff_frac", "cooler_eff_frac"}, "ambient_c": {"cooler_eff_frac"}, "turbine_in_kpa": {"turbine_flow"}, "turbine_in_c": {"turbine_flow"},
		"turbine_out_kpa": {"dpf_resist"}, "dpf_delta_kpa": {"dpf_resist"}, "dpf_in_c": {"dpf_resist"}, "wheel_power_kw": {"bsfc_g_kwh", "bmep_kpa"}, "lambda_ratio": nil, "baro_kpa": nil,
	} {
		columns := map[string][]float64{}
		for name, c := range engineRows() {
			columns[name] = []float64{c[0], c[0]}
		}
		columns[input][1] = nan
		ctx := unstated()
		ctx.Vehicle = van()
		f := frame(columns)
		Columns(f, ctx)
		for _, name := range all {
			c := f.Column(name)
			if math.IsNaN(c[0]) || math.IsNaN(c[1]) != slices.Contains(lost, name) {
				t.Errorf("without %s: %s is %v", input, name, c)
			}
		}
	}
}

func TestAirBySpeedAndDensity(t *testing.T) {
	columns := map[string][]float64{"map_kpa": {300, 300, 300}, "charge_c": {75, 75, 75}, "engine_speed_rpm": {2800, 2800, 2800}, "fuel_kg_h": {30, 30, 30}}
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{DisplacementL: 3, VolumetricEfficiency: 0.9}
	ctx.Run.BaroKPa = 100
	f := frame(columns)
	got := Columns(f, ctx)
	if !slices.Equal(codes(got), []string{"air_speed_density"}) || got[0].Value != 0.9 || got[0].Severity != schema.Doubt {
		t.Errorf("findings %+v", got)
	}
	near(t, "40 CFR 1065.602(l)(1) in kg/h", f.Column("air_kg_h")[0], 0.18912*3600, 0.02)
	if f.Has("ve_frac") {
		t.Error("the efficiency comes back from air that it made")
	}
	// Recirculated exhaust gas fills the cylinders too: no air is told there.
	columns["egr_pct"] = []float64{2, 2.1, nan}
	f = frame(columns)
	got = Columns(f, ctx)
	if a := f.Column("air_kg_h"); math.IsNaN(a[0]) || !math.IsNaN(a[1]) || !math.IsNaN(a[2]) {
		t.Errorf("air at 2, 2.1 and unknown %% of recirculation: %v", a)
	}
	if len(got) != 1 || !strings.Contains(got[0].Text, "left out where egr_pct is above 2") {
		t.Errorf("findings %+v", got)
	}
	for name, change := range map[string]func(v *schema.Vehicle){"no efficiency": func(v *schema.Vehicle) { v.VolumetricEfficiency = 0 }, "no displacement": func(v *schema.Vehicle) { v.DisplacementL = 0 }} {
		v := *ctx.Vehicle
		change(&v)
		other := ctx
		other.Vehicle = &v
		f = frame(columns)
		if got := codes(Columns(f, other)); f.Has("air_kg_h") || len(got) > 0 {
			t.Errorf("%s: air %v, findings %v", name, f.Column("air_kg_h"), got)
		}
	}
}

// Where both are there, the meter wins, also over its own gaps: two definitions are not mixed in a run. Below zero it is broken.
func TestMeasuredAirWins(t *testing.T) {
	columns := map[string][]float64{"map_kpa": {300, 300, 300}, "charge_c": {75, 75, 75}, "engine_speed_rpm": {2800, 2800, 2800}, "maf_g_s": {100, nan, -3}}
	ctx := unstated()
	ctx.Vehicle, ctx.Run.BaroKPa = van(), 100
	f := frame(columns)
	got := codes(Columns(f, ctx))
	want(t, f, map[string][]float64{"air_kg_h": {360, nan, nan}})
	if slices.Contains(got, "air_speed_density") || !slices.Contains(got, "ve_egr_unknown") {
		t.Errorf("findings %v", got)
	}
}

func TestVolumetricEfficiencyIsRefused(t *testing.T) {
	columns := map[string][]float64{"map_kpa": constant(6, 250), "charge_c": constant(6, 46.85), "engine_speed_rpm": constant(6, 3000), "maf_g_s": {120, 120, 120, 1000, 5, 120}, "egr_pct": {0, 2, 2.01, 0, 0, nan}}
	ctx := unstated()
	ctx.Vehicle, ctx.Run.BaroKPa = van(), 100
	f := frame(columns)
	got := Columns(f, ctx)
	for i, v := range f.Column("ve_frac") {
		if math.IsNaN(v) != (i >= 2) {
			t.Errorf("row %d: %v", i, v)
		}
	}
	if len(got) != 1 || got[0].Code != "ve_implausible" || got[0].Value != 2 || got[0].Severity != schema.Note || got[0].T0S != f.T[3] || got[0].T1S != f.T[4] {
		t.Errorf("findings %+v", got)
	}
}

// A valve that never reads shut leaves out what needs fresh air alone, and that is said with its least reading.
func TestRecirculationIsNamed(t *testing.T) {
	columns := map[string][]float64{"map_kpa": {250, nan, 250, 250}, "charge_c": {45, 45, 45, 45}, "engine_speed_rpm": {3000, 0, 3000, 3000}, "maf_g_s": {120, 0, 120, 120}, "egr_pct": {5, 0, 40, nan}}
	ctx := unstated()
	ctx.Vehicle, ctx.Run.BaroKPa = van(), 100
	for _, name := range []string{"ve_frac", "air_kg_h"} {
		f := frame(columns)
		got := Columns(f, ctx)
		if f.Has(name) || len(got) != 1 || got[0].Code != "egr_open" || got[0].Channel != name || got[0].Value != 5 {
			t.Errorf("%s: %v, findings %+v", name, f.Column(name), got)
		}
		delete(columns, "maf_g_s")
	}
}

// Fuel is the flow, else the injected mass, else unknown; on the overrun there is none and so no ratio.
func TestFuelOfRatios(t *testing.T) {
	columns := map[string][]float64{"maf_g_s": {100, 100, 100}, "engine_speed_rpm": {2000, 2000, 2000}, "inj_mg": {75, 0, nan}, "fuel_kg_h": {36, 0, nan}}
	ctx := unstated()
	ctx.Vehicle = van()
	ctx.Vehicle.FuelStoichRatio = 0
	f := frame(columns)
	if got := codes(Columns(f, ctx)); got != nil {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"afr_ratio": {10, nan, nan}, "lambda_calc_ratio": {10 / 14.5, nan, nan}})
	delete(columns, "fuel_kg_h")
	f = frame(columns)
	Columns(f, ctx)
	want(t, f, map[string][]float64{"afr_ratio": {20, nan, nan}}) // 75 mg x 4 x 1000 a minute: 5 g/s.
	ctx.Vehicle.Cylinders = 0
	f = frame(columns)
	if got := codes(Columns(f, ctx)); !slices.Equal(got, []string{"cylinders_missing"}) {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"air_kg_h": {360, 360, 360}, "afr_ratio": nil})
}

func TestLambdaAgainstTheSensor(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, c := range []struct {
		off   float64
		rows  int
		doubt bool
	}{{0, 200, false}, {0.09, 200, false}, {0.12, 200, true}, {-0.12, 200, true}, {0.5, 19, false}} {
		var maf, fuel, sensor []float64
		for range c.rows {
			l := 1.2 + r.Float64()
			maf, fuel, sensor = append(maf, 100), append(fuel, 360/14.5/l), append(sensor, l/(1+c.off)*(1+0.03*r.NormFloat64()))
		}
		// What a sensor does not read well says nothing: thin air on the overrun, and a probe that is cold.
		for range c.rows {
			maf, fuel, sensor = append(maf, 100, 100), append(fuel, 1, 10), append(sensor, 9, 0.5)
		}
		f := frame(map[string][]float64{"maf_g_s": maf, "fuel_kg_h": fuel, "lambda_ratio": sensor})
		got := Columns(f, unstated())
		if (len(got) == 1) != c.doubt || c.doubt && (got[0].Code != "lambda_disagrees" || math.Abs(got[0].Value-1-c.off) > 0.02) {
			t.Errorf("off by %v in %d rows: findings %+v", c.off, c.rows, got)
		}
	}
}
