package derive

import (
	"math"
	"testing"

	"dynolake/schema"
)

func byCode(found []schema.Finding) map[string]schema.Finding {
	out := map[string]schema.Finding{}
	for _, f := range found {
		out[f.Code] = f
	}
	return out
}

// A turbocharger made of stated efficiencies gives them back: compressor 0.72, turbine 0.68 with the shaft's balance at 0.95.
func TestTurboBalance(t *testing.T) {
	const n = 100
	f := schema.NewFrame(make([]float64, n))
	set := func(name string, v float64) {
		x := make([]float64, n)
		for i := range x {
			x[i] = v
			f.T[i] = float64(i) * 0.1
		}
		f.Set(name, x)
	}
	air, fuel := 0.2, 0.008
	t1, t3, p3 := Kelvin(300), Kelvin(900), AbsKPa(260)
	t2 := CompressorOutlet(t1, 2.4, 0.72)
	power := GasPower(KgPerS(air), AirCp, t1, t2)
	t4 := t3 - Kelvin(power/0.95/((air+fuel)*ExhaustCp))
	// The pressure after the turbine that an efficiency of 0.68 belongs to.
	p4 := float64(p3) * math.Pow(1-float64(t3-t4)/(0.68*float64(t3)), ExhaustGamma/(ExhaustGamma-1))
	for name, v := range map[string]float64{
		"maf_g_s": 1000 * air, "fuel_kg_h": 3600 * fuel, "inlet_c": float64(t1) - 273.15, "compressor_out_c": float64(t2) - 273.15,
		"turbine_in_c": float64(t3) - 273.15, "turbine_out_c": float64(t4) - 273.15, "turbine_in_kpa": float64(p3), "turbine_out_kpa": p4,
		"turbo_speed_rpm": 120000, "engine_speed_rpm": 3000, "baro_kpa": 100, "map_kpa": 230,
	} {
		set(name, v)
	}
	found := byCode(Columns(f, Context{Run: schema.Run{BaroKPa: math.NaN()}, Vehicle: &schema.Vehicle{StrokeMM: 95.5}}))
	for name, want := range map[string]float64{
		"turbine_eff_frac": 0.68, "turbo_balance_frac": 0.95, "compressor_power_kw": power, "turbine_power_kw": power / 0.95,
		"corrected_turbo_rpm": 120000 / math.Sqrt(300.0/298), "expansion_ratio": float64(p3) / p4, "piston_speed_m_s": 9.55,
	} {
		near(t, name, f.Column(name)[50], want, 1e-9*want)
	}
	if _, ok := found["turbo_balance_off"]; ok {
		t.Error("a good balance was doubted")
	}
	if _, ok := found["turbine_heat_counts"]; !ok {
		t.Error("that heat counts was not said")
	}
	hot := f.Column("turbine_out_c")
	for i := range hot {
		hot[i] += 0.3 * float64(t3-t4) // A probe that reads high: 0.95 becomes 1.36.
	}
	found = byCode(Columns(f, Context{Run: schema.Run{BaroKPa: math.NaN()}}))
	if d, ok := found["turbo_balance_off"]; !ok || d.Severity != schema.Doubt {
		t.Errorf("a balance of %g was not doubted", f.Column("turbo_balance_frac")[50])
	}
}
