package derive

import (
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dynolake/schema"
)

// everything is a full-load point at which every formula has its inputs, 120 rows 10 ms apart.
func everything() (map[string]float64, Context) {
	ctx := unstated()
	ctx.Run.Standard = "iso1585-1992"
	ctx.Vehicle = &schema.Vehicle{DisplacementL: 2.2, Cylinders: 4, Strokes: 4, DrivelineEfficiency: 0.88, VolumetricEfficiency: 0.9, FuelStoichRatio: 14.5, FuelHeatingMJKg: 42.8, StrokeMM: 96,
		GearRatios: []float64{4, 2.2, 1.4, 1}, FinalDrive: 3.7, RollingRadiusM: 0.33, MassKg: 2000, RoadLoad: []float64{150, 1, 0.04},
		Lag: map[string]schema.Lag{"turbine_in_c": {TimeS: 2, Correct: true}, "turbine_out_c": {TimeS: 2, Correct: true}}}
	return map[string]float64{
		"baro_kpa": 98, "map_kpa": 248, "map_set_kpa": 250, "turbine_in_kpa": 380, "turbine_out_kpa": 130, "exhaust_total_kpa": 31, "dpf_delta_kpa": 12, "dpf_in_c": 560, "inlet_kpa": 95, "inlet_c": 27,
		"compressor_out_kpa": 255, "compressor_out_c": 152, "charge_c": 48, "ambient_c": 22, "humidity_pct": 40, "engine_speed_rpm": 3400, "roller_force_n": 3300, "roller_speed_kmh": 113, "vehicle_speed_kmh": 114,
		"maf_g_s": 128, "fuel_kg_h": 26, "inj_mg": 64, "turbine_in_c": 760, "turbine_out_c": 620, "turbo_speed_rpm": 165000, "rail_kpa": 160000, "rail_set_kpa": 161000, "vane_pct": 30, "vane_set_pct": 31,
		"pedal_pct": 100, "wheel_power_kw": 104, "torque_nm": 290, "engine_torque_nm": 330, "gear": 4, "lambda_ratio": 1.4, "output_shaft_rpm": 3400, "wheel_torque_nm": 1080, "soot_g": 12,
	}, ctx
}

// without are what is left out, so that each formula comes to its other branches.
var without = [][]string{
	{}, {"turbine_out_kpa"}, {"compressor_out_kpa"}, {"inlet_kpa"}, {"maf_g_s"}, {"fuel_kg_h"}, {"inlet_c"}, {"ambient_c"}, {"engine_torque_nm"}, {"turbine_out_kpa", "exhaust_total_kpa"}, {"dpf_in_c"},
	{"torque_nm"}, {"wheel_power_kw"}, {"wheel_power_kw", "roller_force_n"}, {"wheel_power_kw", "roller_force_n", "torque_nm"}, {"wheel_power_kw", "roller_force_n", "torque_nm", "output_shaft_rpm"},
	{"wheel_power_kw", "roller_force_n", "torque_nm", "output_shaft_rpm", "engine_speed_rpm"}, {"wheel_power_kw", "roller_speed_kmh"},
	{"maf_g_s", "fuel_kg_h"}, {"map_kpa"}, {"inlet_kpa", "inlet_c"},
}

// movers gives, for every derived column and the two that are filled in, the sensitivity to each logged column that moves it: NaN where
// it is not the same everywhere.
func movers() map[string]map[string]float64 {
	found := map[string]map[string]float64{}
	var columns []string
	for _, c := range schema.Columns() {
		if c.Formula != "" && c.Kind == schema.Continuous {
			columns = append(columns, c.Name)
			found[c.Name] = map[string]float64{}
		}
	}
	for _, more := range []float64{0, 0.004} { // At a second point, and of a second vehicle, what is no constant comes out otherwise.
		for _, left := range without {
			point, ctx := everything()
			ctx.Vehicle.DisplacementL *= 1 + more
			ctx.Vehicle.StrokeMM *= 1 + more
			ctx.Vehicle.FinalDrive *= 1 + more
			f := schema.NewFrame(make([]float64, 120))
			for i := range f.T {
				f.T[i] = 0.01 * float64(i)
			}
			for k, n := range slices.Sorted(maps.Keys(point)) {
				v := point[n]
				if slices.Contains(left, n) {
					continue
				}
				if n != "gear" && n != "pedal_pct" {
					v *= 1 + more*(1+0.37*float64(7*k%11))
				}
				x := constant(120, v)
				for i := range x {
					x[i] += v * 1e-4 * math.Sin(float64(i)) // So that slopes and spreads are not zero.
				}
				if n == "gear" {
					x = constant(120, v)
				}
				f.Set(n, x)
			}
			p := perturbed{frame: f, ctx: ctx, row: 60}
			at := p.values("", 0, columns)
			for _, input := range p.inputs() {
				step := 1e-5 * math.Abs(f.Column(input)[60])
				a := schema.Accuracy{Half: step, Coverage: 1}
				below, above := p.values(input, -1, columns, a), p.values(input, 1, columns, a)
				for i, c := range columns {
					d := (above[i] - below[i]) / (2 * step)
					if c == input || math.IsNaN(at[i]) || math.IsNaN(d) || math.Abs(above[i]-below[i]) < 1e-9*(math.Abs(at[i])+1e-3) {
						continue
					}
					if was, seen := found[c][input]; seen && !(math.Abs(was-d) <= 1e-6*math.Abs(d)) {
						d = math.NaN()
					}
					found[c][input] = d
				}
			}
		}
	}
	return found
}

// The catalogue says of every derived column which logged columns move it, and by how much where that is constant: it is what the
// code does.
func TestInputsAreThoseOfTheCatalogue(t *testing.T) {
	found := movers()
	for _, c := range schema.Columns() {
		if c.Formula == "" || c.Kind != schema.Continuous {
			continue
		}
		stated := map[string]float64{}
		for _, text := range c.Inputs {
			name, factor, constant := strings.Cut(text, " ")
			stated[name] = math.NaN()
			if constant {
				v, err := strconv.ParseFloat(factor, 64)
				if err != nil {
					t.Errorf("%s: input %q", c.Name, text)
				}
				stated[name] = v
			}
		}
		for _, name := range slices.Sorted(maps.Keys(found[c.Name])) {
			d := found[c.Name][name]
			want, ok := stated[name]
			if !ok {
				t.Errorf("%s is moved by %s (%.4g), which the catalogue does not say", c.Name, name, d)
				continue
			}
			if math.IsNaN(want) != math.IsNaN(d) || math.Abs(want-d) > 1e-5 {
				t.Errorf("%s is moved by %s by %v, the catalogue says %v", c.Name, name, d, want)
			}
			delete(stated, name)
		}
		for name := range stated {
			t.Errorf("%s is not moved by %s, as the catalogue says", c.Name, name)
		}
	}
}
