package derive

import (
	"math"
	"slices"
	"strings"
	"testing"

	"dynolake/schema"
)

func ports(n int) map[string][]float64 {
	return map[string][]float64{"inlet_kpa": constant(n, 95), "inlet_c": constant(n, 25), "compressor_out_kpa": constant(n, 237.5), "compressor_out_c": constant(n, 135), "baro_kpa": constant(n, 98)}
}

func TestCompressorNeedsItsPorts(t *testing.T) {
	f := frame(ports(1))
	Columns(f, unstated())
	near(t, "efficiency", f.Column("compressor_eff_frac")[0], 0.81114, 5e-6)
	for _, port := range []string{"inlet_kpa", "inlet_c", "compressor_out_kpa", "compressor_out_c"} {
		columns := ports(1)
		delete(columns, port)
		columns["map_kpa"], columns["ambient_c"], columns["charge_c"] = []float64{230}, []float64{20}, []float64{40}
		f := frame(columns)
		got := Columns(f, unstated())
		if f.Has("compressor_eff_frac") {
			t.Errorf("without %s: %v", port, f.Column("compressor_eff_frac"))
		}
		// Without the outlet's temperature nobody expects an efficiency.
		named := slices.ContainsFunc(got, func(f schema.Finding) bool {
			return f.Code == "compressor_port_missing" && strings.Contains(f.Text, "it needs "+port+",")
		})
		if named != (port != "compressor_out_c") {
			t.Errorf("without %s: findings %+v", port, got)
		}
	}
}

func TestCompressorIsRefused(t *testing.T) {
	columns := ports(5)
	columns["compressor_out_c"] = []float64{135, 29, 480, 90, 135} // Good, too cold, far too hot, far too cold.
	columns["compressor_out_kpa"][4] = 90                          // An expansion that warms.
	f := frame(columns)
	got := Columns(f, unstated())
	for i, v := range f.Column("compressor_eff_frac") {
		if math.IsNaN(v) != (i > 0) {
			t.Errorf("row %d: %v", i, v)
		}
	}
	// The row with a rise of 4 K is below what is judged; three are refused and one kept.
	if len(got) != 1 || got[0].Code != "compressor_eff_implausible" || got[0].Value != 3 || got[0].Severity != schema.Doubt || got[0].T0S != f.T[2] || got[0].T1S != f.T[4] {
		t.Errorf("findings %+v", got)
	}
}

func TestCorrectedAirWithoutAPort(t *testing.T) {
	columns := map[string][]float64{"maf_g_s": {300}, "baro_kpa": {95}, "ambient_c": {40}}
	f := frame(columns)
	if got := codes(Columns(f, unstated())); !slices.Equal(got, []string{"corrected_air_baro", "corrected_air_ambient"}) {
		t.Errorf("findings %v", got)
	}
	near(t, "0.300 kg/s at 313.15 K and 95 kPa", f.Column("corrected_air_kg_s")[0], 0.300*math.Sqrt(313.15/298)/0.95, 1e-9)
	// The sheet's ambient temperature counts as one; without any there is no figure and nothing to say.
	delete(columns, "ambient_c")
	ctx := unstated()
	f = frame(columns)
	if got := codes(Columns(f, ctx)); f.Has("corrected_air_kg_s") || got != nil {
		t.Errorf("without a temperature: %v, findings %v", f.Column("corrected_air_kg_s"), got)
	}
	ctx.Run.AmbientC = 40
	f = frame(columns)
	Columns(f, ctx)
	near(t, "with the sheet's", f.Column("corrected_air_kg_s")[0], 0.300*math.Sqrt(313.15/298)/0.95, 1e-9)
}

func TestCoolingAir(t *testing.T) {
	columns := map[string][]float64{"compressor_out_c": {150, 150}, "charge_c": {45, 160}, "inlet_c": {30, 30}, "compressor_out_kpa": {250, 240}, "map_kpa": {243, 241}, "baro_kpa": {100, 100}}
	ctx := unstated()
	ctx.Run.AmbientC = 25
	f := frame(columns)
	if got := codes(Columns(f, ctx)); !slices.Equal(got, []string{"compressor_port_missing", "cooler_eff_implausible"}) {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"cooler_eff_frac": {0.84, nan}, "cooler_drop_kpa": {7, -1}})
	ctx.Run.AmbientC = nan
	f = frame(columns)
	if got := codes(Columns(f, ctx)); !slices.Equal(got, []string{"compressor_port_missing", "cooler_eff_implausible", "cooler_inlet_air"}) {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"cooler_eff_frac": {105. / 120, nan}})
	columns["ambient_c"] = []float64{20, 20}
	ctx.Vehicle = &schema.Vehicle{ChargeCooling: "liquid"}
	f = frame(columns)
	if got := codes(Columns(f, ctx)); !slices.Equal(got, []string{"compressor_port_missing", "cooler_eff_implausible", "cooler_liquid"}) {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"cooler_eff_frac": {105. / 130, nan}})
	ctx.Vehicle = &schema.Vehicle{ChargeCooling: "none"}
	f = frame(columns)
	if got := codes(Columns(f, ctx)); !slices.Equal(got, []string{"compressor_port_missing"}) || f.Has("cooler_eff_frac") || f.Has("cooler_drop_kpa") {
		t.Errorf("without a cooler: findings %v", got)
	}
}

func TestConsumptionOnTheCrankshaft(t *testing.T) {
	columns := map[string][]float64{"engine_speed_rpm": {3000, 3000, 3000}, "engine_torque_nm": {300, -40, nan}, "wheel_power_kw": {10, 10, 10}, "fuel_kg_h": {20, 20, 20}}
	ctx := unstated()
	ctx.Vehicle = van()
	f := frame(columns)
	if got := codes(Columns(f, ctx)); got != nil {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"bsfc_g_kwh": {20000 / (2 * math.Pi * 3000 * 300 / 60000), nan, nan}, "bmep_kpa": {4 * math.Pi * 300 / 1.968, -4 * math.Pi * 40 / 1.968, nan}})
	// Without the engine's speed its power is not known, and wheel power does not stand for it; the torque has its mean pressure.
	delete(columns, "engine_speed_rpm")
	f = frame(columns)
	Columns(f, ctx)
	want(t, f, map[string][]float64{"bsfc_g_kwh": nil, "bmep_kpa": {4 * math.Pi * 300 / 1.968, -4 * math.Pi * 40 / 1.968, nan}})
}

func TestConsumptionOnWheelPower(t *testing.T) {
	columns := map[string][]float64{"engine_speed_rpm": constant(5, 3000), "wheel_power_kw": {72, 72, -10, 100, 72}, "converter_locked_frac": {1, 0, 1, 1, nan}, "fuel_kg_h": {21.6, 21.6, 21.6, 5, 21.6}}
	ctx := unstated()
	ctx.Vehicle = van()
	f := frame(columns)
	got := Columns(f, ctx)
	want(t, f, map[string][]float64{"bsfc_g_kwh": {240, nan, nan, nan, nan}}) // 5 kg/h for 125 kW is more than any engine's.
	if !slices.Equal(codes(got), []string{"bsfc_implausible", "engine_power_from_wheel"}) || got[1].Value != 0.8 || got[1].Severity != schema.Note {
		t.Errorf("findings %+v", got)
	}
	near(t, "mean pressure", f.Column("bmep_kpa")[0], 4*math.Pi*90*TorqueSpeed/3000/1.968, 1e-9)
	if v := f.Column("bmep_kpa"); !math.IsNaN(v[1]) || !math.IsNaN(v[2]) {
		t.Errorf("mean pressure through a slipping converter or on the overrun: %v", v)
	}
	ctx.Vehicle.DrivelineEfficiency = 0
	f = frame(columns)
	if got := codes(Columns(f, ctx)); got != nil || f.Has("bsfc_g_kwh") || f.Has("bmep_kpa") {
		t.Errorf("without a driveline efficiency: findings %v", got)
	}
}

func TestFilterPressure(t *testing.T) {
	columns := map[string][]float64{"maf_g_s": {120}, "fuel_kg_h": {21.6}, "dpf_delta_kpa": {9}, "dpf_in_c": {476.85}, "baro_kpa": {98}, "exhaust_total_kpa": {20}, "turbine_out_kpa": {119}}
	ctx := unstated()
	ctx.Vehicle = van()
	resist := func(p float64) []float64 { return []float64{9 / (0.126 * 287.055 * 750 / (1000 * p))} }
	for _, c := range []struct {
		drop string
		p    float64
		code []string
	}{{"", 119, nil}, {"turbine_out_kpa", 118, nil}, {"exhaust_total_kpa", 107, []string{"dpf_pressure_assumed"}}} {
		delete(columns, c.drop)
		f := frame(columns)
		got := slices.DeleteFunc(codes(Columns(f, ctx)), func(code string) bool { return code == "baro_missing" })
		if want(t, f, map[string][]float64{"dpf_resist": resist(c.p)}); !slices.Equal(got, c.code) {
			t.Errorf("without %q: findings %v, want %v", c.drop, got, c.code)
		}
	}
	columns["dpf_delta_kpa"] = []float64{-1}
	f := frame(columns)
	if got := Columns(f, ctx); f.Has("dpf_resist") || len(got) != 1 || got[0].Code != "dpf_resist_implausible" || got[0].Severity != schema.Doubt {
		t.Errorf("a loss below zero: %v, findings %+v", f.Column("dpf_resist"), got)
	}
}
