package demo

import (
	"math"
	"testing"

	"dynolake/derive"
	"dynolake/schema"
)

// What is derived from a trace without sensors is what the model was given: breathing, λ, the compressor's efficiency, the filter's
// resistance, the engine's work. The model knows none of the formulas that are tried here.
func TestDerivedColumnsGiveTheModelBack(t *testing.T) {
	for _, id := range []string{"invented-car-a", "invented-van-c", "invented-truck-f"} {
		p := one(t, id, "sweep", 3)
		tr := Default().run(p, true, nil)
		f := schema.NewFrame(nil)
		for i := range tr.rows {
			f.T = append(f.T, float64(i)*tr.dt)
		}
		for k, name := range signals {
			c := make([]float64, len(tr.rows))
			for i, r := range tr.rows {
				c[i] = r[k]
			}
			f.Set(name, c)
		}
		e, x := &p.v.engine, &p.v.exhaust
		v := &schema.Vehicle{DisplacementL: e.litres, Cylinders: int(e.cylinders), FuelStoichRatio: stoich}
		for _, found := range derive.Columns(f, derive.Context{Vehicle: v, SheetGear: math.NaN()}) {
			if found.Severity == schema.Doubt {
				t.Errorf("%s: %s: %s", id, found.Code, found.Text)
			}
		}
		at := func(name string, i int) float64 { return f.Column(name)[i] }
		for _, s := range tr.pulls {
			for i := s.from + 10; i < s.to; i += 25 {
				near(t, id+" breathing", at("ve_frac", i), e.breathing, 0.005) // The charge temperature is a step older than the air.
				near(t, id+" λ", at("lambda_calc_ratio", i), at("lambda_ratio", i), 1e-6)
				// The probe at the inlet stands in air that is 2 K warmer than what the model compresses.
				probe, air, out := at("inlet_c", i)+kelvin, at("ambient_c", i)+kelvin, at("compressor_out_c", i)+kelvin
				share := at("corrected_air_kg_s", i) * math.Sqrt(air/probe) / p.v.turbo.flow
				near(t, id+" compressor", at("compressor_eff_frac", i)*(out-probe)/probe*air/(out-air), 0.76*math.Sqrt(p.v.turbo.overall(share)/p.v.turbo.efficiency), 0.005)
				if eff := at("cooler_eff_frac", i); !(eff > 0.6 && eff < 0.95) {
					t.Errorf("%s: cooler effectiveness %.3f, want 0.88 and less, with a lag", id, eff)
				}
				if area := at("turbine_flow", i) / p.v.turbo.flow; !(area > 0 && area < areaOpen) {
					t.Errorf("%s: turbine flow %.4f of the turbo's, want less than the open area's %.3f", id, area, areaOpen)
				}
				near(t, id+" work a cycle", at("bmep_kpa", i)*e.litres, 4*math.Pi*at("engine_torque_nm", i), 1e-9)
				near(t, id+" consumption", at("bsfc_g_kwh", i)*at("engine_torque_nm", i)*at("engine_speed_rpm", i)*math.Pi/30e6, at("fuel_kg_h", i), 1e-9)
				tail := at("exhaust_total_kpa", i) - at("dpf_delta_kpa", i)
				clean := x.filter / p.v.turbo.flow / 800 * 110 / (at("baro_kpa", i) + tail) * at("turbine_out_kpa", i) / (gasConstant / 1000)
				near(t, id+" filter", at("dpf_resist", i), clean*(1+0.9*at("soot_g", i)/x.full), 0.02) // The gas at the filter is a step older.
			}
		}
	}
}
