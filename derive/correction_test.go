package derive

import (
	"errors"
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
	if len(got) != 1 || got[0] != "correction_withdrawn" { // Its own authors withdrew it for engines that compensate by themselves.
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

// ISO 1585's factors at 97 kPa dry and 303 K: 1.0351 for spark ignition; f_a is 1.03258 for a diesel without a turbocharger, 1.03485 with one.
func TestCorrectionByIgnitionAndAspiration(t *testing.T) {
	at := Atmosphere{Dry: 97, Total: 97, TempC: 303 - 273.15, FuelMgLC: 52.0833, Charge: 1}
	spark, natural := at, at
	spark.Spark, spark.FuelMgLC, spark.Charge = true, nan, nan
	natural.Unturbo = true
	const fm = 0.036*52.0833 - 1.14
	for _, c := range []struct {
		standard string
		at       Atmosphere
		want     float64
	}{
		{"iso1585-1992", spark, 1.0351}, {"unr85", spark, 1.0351}, {"saej1349-2004", spark, 1.0344},
		{"iso1585-1992", natural, math.Pow(1.03258, fm)}, {"unr85", natural, math.Pow(1.03258, fm)}, {"iso1585-1992", at, math.Pow(1.03485, fm)},
	} {
		got, err := CorrectionFactor(c.standard, c.at)
		if err != nil {
			t.Errorf("%s: %v", c.standard, err)
		}
		near(t, c.standard, got, c.want, 2e-4)
	}
	if _, err := CorrectionFactor("iso1585-1982", spark); !errors.Is(err, ErrOutsideValidity) {
		t.Errorf("the 1982 edition took a spark-ignition engine: %v", err)
	}
}

// A spark-ignition vehicle needs neither fuel nor charge pressure; an edition that has no formula for it corrects nothing.
func TestCorrectedPowerOfASparkEngine(t *testing.T) {
	for standard, want := range map[string]float64{"iso1585-1992": 103.51, "iso1585-1982": nan} {
		ctx := unstated()
		ctx.Run.Standard, ctx.Run.BaroKPa, ctx.Run.AmbientC, ctx.Run.HumidityPct = standard, 97, 303-273.15, 0
		ctx.Vehicle = &schema.Vehicle{Ignition: "spark"}
		f, got := made([]float64{0, 1}, map[string][]float64{"wheel_power_kw": {100, 100}, "engine_speed_rpm": {3500, 3500}}, ctx)
		if math.IsNaN(want) {
			if f.Has("power_corr_kw") || len(got) != 1 || got[0] != "correction_unknown" {
				t.Errorf("%s: findings %v", standard, got)
			}
			continue
		}
		near(t, standard, f.Column("power_corr_kw")[0], want, 0.02)
	}
}
