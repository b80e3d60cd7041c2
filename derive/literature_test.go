package derive

import (
	"testing"

	"dynolake/schema"
)

// What the literature has for diesels lies inside what the catalogue calls plausible, so that no such figure is refused. None of it is
// a limit here: the starter file proposes placeholders alone.
func TestLiteratureIsPlausible(t *testing.T) {
	for _, r := range []struct {
		column    string
		low, high float64 // In the stored unit.
	}{
		{"afr_ratio", 18, 70},                                   // Heywood ch. 2, full load to idle (from memory).
		{"lambda_calc_ratio", 1.1, 1.7},                         // Smoke limits from common-rail cars to heavy duty (engine handbooks, from memory).
		{"lambda_calc_ratio", 2.0, 3.5},                         // Large diesels at full load (a secondary page that cites Heywood).
		{"lambda_ratio", 1.1, 3.5},                              // As above.
		{"exhaust_gauge_kpa", 10, 40},                           // Filters fitted, by power (a secondary page; recalled as the VERT recommendation).
		{"dpf_in_c", 240, 400},                                  // Passive regeneration (EPA National Clean Diesel Campaign, Technical Bulletin, DPF Installation).
		{"turbine_in_c", 700, 850},                              // Sustained, heavy duty to cars (handbooks, from memory).
		{"ve_frac", 0.80, 0.95},                                 // Two and four valves (from memory); 40 CFR 1065.602(l) has 0.90.
		{"bmep_kpa", 1000, 3000},                                // Turbo diesels of the 1980s to modern cars (from memory).
		{"bsfc_g_kwh", 3600 / (0.48 * 42.8), 3600 / (0.4 * 42)}, // Thermal efficiencies of 0.40 to 0.48 (from memory).
		{"net_drive_kpa", -30, 400},                             // Engine less exhaust manifold pressure is 0 to 100 kPa and below zero at a good match (Watson and Janota, from memory): drive is boost and that.
		{"compressor_eff_frac", 0.58, 0.82},                     // From the choke line to a good peak (from memory).
	} {
		c, ok := schema.Lookup(r.column)
		if !ok || !c.Plausible(r.low) || !c.Plausible(r.high) {
			t.Errorf("%s: %v to %v is called implausible, range %v", r.column, r.low, r.high, c.Range)
		}
	}
}

// Heywood's 18 to 70 of air over fuel (from memory) are 1.24 to 4.8 of lambda, an equivalence ratio up to about 0.8.
func TestDieselAirFuelRange(t *testing.T) {
	near(t, "least lambda", Lambda(18, DieselStoich), 1.25, 0.01)
	near(t, "equivalence ratio", 1/Lambda(18, DieselStoich), 0.8, 0.01)
}

// More than 95 % of a truck's engine power reach the wheel at high torque and near 98 % at highway speed (Technology Roadmap for the 21st
// Century Truck Program, 2000); 90 to 95 % of a car's (from memory). Engine power is wheel power over it.
func TestDrivelineEfficiencies(t *testing.T) {
	for _, share := range []float64{0.90, 0.95, 0.98} {
		f := frame(map[string][]float64{"engine_speed_rpm": {1800}, "wheel_power_kw": {300}, "fuel_kg_h": {65}})
		ctx := unstated()
		ctx.Vehicle = &schema.Vehicle{DrivelineEfficiency: share, DisplacementL: 12.8, Strokes: 4}
		Columns(f, ctx)
		near(t, "consumption", f.Column("bsfc_g_kwh")[0], 65000/(300/share), 1e-9)
	}
	// 40 CFR 1065.602(l) takes 15 % of an engine's power for friction: brake over indicated is 0.85, what J1349's 1.18 stands for.
	near(t, "indicated over brake", 1/(1-0.15), 1.18, 0.005)
}
