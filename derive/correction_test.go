package derive

import (
	"math"
	"slices"
	"strings"
	"testing"

	"dynolake/schema"
)

// The worked case of UN R85: 7.5 g/s, 1.968 L, 3500 1/min, charge ratio 2.4, 95 kPa dry and 308 K: factor 1.06638. Humidity 0
// makes the total pressure the dry one.
func TestCorrectedPower(t *testing.T) {
	ctx := unstated()
	ctx.Run.Standard, ctx.Run.BaroKPa, ctx.Run.AmbientC, ctx.Run.HumidityPct = "UN R85", 95, 308-273.15, 0
	ctx.Vehicle = &schema.Vehicle{DisplacementL: 1.968, Strokes: 4}
	columns := map[string][]float64{"wheel_power_kw": {100, nan}, "torque_nm": {200, 200}, "engine_speed_rpm": {3500, 3500}, "fuel_kg_h": {27, 27}, "map_kpa": {228, 228}}
	f, got := made([]float64{0, 1}, columns, ctx)
	if got != nil {
		t.Errorf("findings %v", got)
	}
	near(t, "factor", f.Column("corr_ratio")[0], 1.06638, 2e-4)
	near(t, "power", f.Column("power_corr_kw")[0], 106.638, 0.02)
	near(t, "torque", f.Column("torque_corr_nm")[1], 213.276, 0.04)
	near(t, "uncorrected power", f.Column("wheel_power_kw")[0], 100, 0)
	if !math.IsNaN(f.Column("power_corr_kw")[1]) {
		t.Error("a missing power is corrected")
	}
	// The same by injected mass: q = 130.662 mg a litre and cycle on four cylinders.
	ctx.Vehicle.Cylinders = 4
	delete(columns, "fuel_kg_h")
	columns["inj_mg"] = constant(2, 130.662*1.968/4)
	f, _ = made([]float64{0, 1}, columns, ctx)
	near(t, "factor by injected mass", f.Column("corr_ratio")[0], 1.06638, 2e-4)
}

func TestCorrectionIsRefusedNotClamped(t *testing.T) {
	ctx := unstated()
	ctx.Run.Standard, ctx.Run.BaroKPa, ctx.Run.AmbientC, ctx.Run.HumidityPct = "unr85", 95, 45, 0
	ctx.Vehicle = &schema.Vehicle{DisplacementL: 2}
	columns := map[string][]float64{"wheel_power_kw": {100}, "engine_speed_rpm": {3500}, "fuel_kg_h": {27}, "map_kpa": {228}}
	f, got := made([]float64{0}, columns, ctx)
	if !slices.Equal(got, []string{"correction_outside_validity"}) || f.Has("power_corr_kw") || f.Column("wheel_power_kw")[0] != 100 {
		t.Errorf("findings %v, corrected %v", got, f.Column("power_corr_kw"))
	}
	ctx.Run.HumidityPct, ctx.Vehicle.DisplacementL = nan, 0
	f = schema.NewFrame([]float64{0})
	for name, c := range columns {
		f.Set(name, c)
	}
	found := Columns(f, ctx)
	if len(found) != 1 || found[0].Code != "correction_input_missing" || !strings.Contains(found[0].Text, "humidity, the vehicle's displacement") {
		t.Errorf("findings %+v", found)
	}
	for _, none := range []string{"", "none"} {
		ctx.Run.Standard = none
		if f, got := made([]float64{0}, columns, ctx); got != nil || f.Has("corr_ratio") {
			t.Errorf("standard %q: findings %v", none, got)
		}
	}
	// DIN 70020 takes the total pressure and no humidity: 990 mbar at 298 K is 1.0319.
	ctx.Run.Standard, ctx.Run.BaroKPa, ctx.Run.AmbientC = "din70020", 99, 298-273.15
	f, got = made([]float64{0}, columns, ctx)
	near(t, "DIN 70020", f.Column("corr_ratio")[0], 1.0319, 2e-4)
	if got != nil {
		t.Errorf("findings %v", got)
	}
}

func TestParseStandard(t *testing.T) {
	for text, want := range map[string]string{"ISO 1585:1992": "iso1585-1992", "SAE J1349-2004": "saej1349-2004", "UN R85": "unr85", "DIN70020": "din70020", "None": "none"} {
		if s, ok := ParseStandard(text); !ok || s.Name != want {
			t.Errorf("ParseStandard(%q) = %q, %v", text, s.Name, ok)
		}
	}
	for _, text := range []string{"", "SAE J1349", "iso1585"} {
		if s, ok := ParseStandard(text); ok {
			t.Errorf("ParseStandard(%q) = %q", text, s.Name)
		}
	}
}
