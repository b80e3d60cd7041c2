package derive

import (
	"errors"
	"math"
	"testing"
)

const mercury = 3.386388640341 // kPa of an inch of conventional mercury (NIST SP 811, from memory; its density in GNU units).

// The reference atmosphere of SAE J1349, ISO 1585 and UN R85 is 298 K and 99.0 kPa dry, 100 kPa with 1 kPa of vapour (the last from
// memory): every edition gives 1 there. 99 kPa are 29.2347 inHg (reckoned; a secondary page has 29.234).
func TestReferenceAtmosphere(t *testing.T) {
	at := Atmosphere{Dry: 99, Total: 100, TempC: 298 - 273.15, FuelMgLC: 130, Charge: 2.5}
	for _, s := range []string{"iso1585-1992", "iso1585-1982", "unr85", "saej1349-2004"} {
		f, err := CorrectionFactor(s, at)
		if err != nil {
			t.Errorf("%s: %v", s, err)
		}
		near(t, s, f, 1, 1e-12)
	}
	near(t, "99 kPa in inHg", 99/mercury, 29.2347, 5e-5)
	near(t, "29.234 inHg in kPa", 29.234*mercury, 99, 0.003)
	// 1 kPa of vapour is 31.5 % humidity at 25 °C by the steam tables.
	near(t, "100 kPa less 1 kPa of vapour", float64(DryPressure(100, 100/VapourPressure(25), 25)), 99, 1e-12)
}

// ISO 3046-1 and ISO 14396 take 100 kPa total, 298 K and 30 % humidity, JIS D 1001 25 °C and 99 kPa dry (from memory): the same air
// within 0.06 %, so that power by either is power by ISO 1585.
func TestOtherReferenceAtmospheres(t *testing.T) {
	near(t, "dry pressure of ISO 3046-1", float64(DryPressure(100, 30, 298-273.15)), 99, 0.06)
	near(t, "factor from ISO 3046-1 to ISO 1585", AirFactor(float64(DryPressure(100, 30, 298-273.15)), 298, 0.7, 1.2), 1, 5e-4)
	near(t, "factor from JIS D 1001 to ISO 1585", AirFactor(99, 298.15, 0.7, 1.2), 1, 7e-4)
}

// Spark ignition, reckoned independently: SAE J1349 of 1990 (secondary source) and ISO 1585 with the exponents and bounds that published
// restatements give; J1349's bounds from memory.
func TestSparkFactor(t *testing.T) {
	for _, r := range []struct {
		p           AbsKPa
		t           Kelvin
		j1349, iso  float64
		outJ, outIS bool
	}{
		{99, 298, 1.0000, 1.0000, false, false}, {97, 303, 1.0344, 1.0351, false, false}, {98, 303, 1.0220, 1.0224, false, false},
		{95, 308, 1.0701, 1.0718, true, true}, {101, 288, 0.9571, 0.9565, false, false}, {90, 298, 1.1180, 1.1212, true, true},
	} {
		for _, c := range []struct {
			name string
			f    func(AbsKPa, Kelvin) (float64, error)
			want float64
			out  bool
		}{{"SAE J1349", SparkFactorJ1349, r.j1349, r.outJ}, {"ISO 1585", SparkFactor, r.iso, r.outIS}} {
			got, err := c.f(r.p, r.t)
			if c.out {
				if !errors.Is(err, ErrOutsideValidity) || !math.IsNaN(got) {
					t.Errorf("%s at %v kPa, %v K: %v, %v; want a refusal of %v", c.name, r.p, r.t, got, err, c.want)
				}
				continue
			}
			if err != nil {
				t.Errorf("%s at %v kPa, %v K: %v", c.name, r.p, r.t, err)
			}
			near(t, c.name, got, c.want, 2e-4)
		}
		// What is refused is still the formula's value.
		near(t, "the formula of ISO 1585", AirFactor(float64(r.p), float64(r.t), 1.2, 0.6), r.iso, 2e-4)
		near(t, "the formula of SAE J1349", 1.18*99/float64(r.p)*math.Sqrt(float64(r.t)/298)-0.18, r.j1349, 2e-4)
	}
	near(t, "1.18 is about 1/0.85", 1/0.85, 1.18, 0.005)
}

// A factor is refused by each of its bounds: 0.93 to 1.07, 288 to 308 K, 80 to 110 kPa.
func TestSparkFactorBounds(t *testing.T) {
	for _, at := range []struct {
		p  AbsKPa
		t  Kelvin
		ok bool
	}{
		{98, 308, true}, {98, 308.1, false}, {100, 288, true}, {100, 287.9, false}, {79.9, 298, false}, {110.1, 298, false}, {93.7, 298, true}, {93.3, 298, false}, {105, 298, true}, {106, 298, false},
	} {
		for _, f := range []func(AbsKPa, Kelvin) (float64, error){SparkFactor, SparkFactorJ1349} {
			if got, err := f(at.p, at.t); (err == nil) != at.ok || math.IsNaN(got) == at.ok {
				t.Errorf("at %v kPa, %v K: %v, %v", at.p, at.t, got, err)
			}
		}
	}
	if f, err := SparkFactor(AbsKPa(nan), 298); !math.IsNaN(f) || err != nil {
		t.Errorf("without a pressure: %v, %v", f, err)
	}
}

// The diesel factor holds from 0.9 to 1.1, 283 to 313 K and 80 to 110 kPa (published restatements of ISO 1585), each bound itself
// included; the engine's figure at its bounds (UN R85 Annex 5; 37.2 and 0.2 of ISO 1585:1992 from memory).
func TestDieselFactorBounds(t *testing.T) {
	for _, c := range []struct {
		dry, kelvin float64
		ok          bool
	}{
		{99, 283, true}, {99, 282.99, false}, {99, 313, true}, {99, 313.01, false}, {110, 298, true}, {110.1, 298, false}, {80, 298, false}, {87, 298, false}, {89, 298, true},
		{90, 313, false}, {105, 290, true}, {110, 284, false},
	} {
		got, err := CorrectionFactor("iso1585-1992", Atmosphere{Dry: AbsKPa(c.dry), TempC: c.kelvin - 273.15 + 1e-9*math.Copysign(1, 298-c.kelvin), FuelMgLC: 200, Charge: 1})
		if (err == nil) != c.ok || math.IsNaN(got) == c.ok {
			t.Errorf("at %v kPa, %v K: %v, %v", c.dry, c.kelvin, got, err)
		}
	}
	// With a weak exponent the pressure's bounds show alone.
	for dry, ok := range map[float64]bool{80: true, 79.99: false, 110: true, 110.01: false} {
		if got, err := CorrectionFactor("unr85", Atmosphere{Dry: AbsKPa(dry), TempC: 25, FuelMgLC: 1, Charge: 1}); (err == nil) != ok {
			t.Errorf("at %v kPa: %v, %v", dry, got, err)
		}
	}
	near(t, "fm of ISO 1585:1992 at 37.2", EngineFactor(37.2, 37.2, 0.2), 0.199, 5e-4)
	near(t, "fm below", EngineFactor(37.19, 37.2, 0.2), 0.2, 0)
	near(t, "fm above", EngineFactor(65.01, 37.2, 0.2), 1.2, 0)
	near(t, "fm at 39.99 of UN R85", EngineFactor(39.99, 40, 0.3), 0.3, 0)
}

// q = 60000 m/(V n) of a two-stroke is half of a four-stroke's 120000 m/(V n).
func TestFuelPerLitreCycleOfATwoStroke(t *testing.T) {
	near(t, "two-stroke", FuelPerLitreCycle(7.5, 1.968, 3500, 2), 130.662/2, 5e-4)
	near(t, "unstated strokes are four", FuelPerLitreCycle(7.5, 1.968, 3500, 0), 130.662, 5e-4)
	for _, q := range []float64{FuelPerLitreCycle(7.5, 0, 3500, 4), FuelPerLitreCycle(7.5, 2, 0, 4)} {
		if !math.IsNaN(q) {
			t.Errorf("q = %v, want none", q)
		}
	}
}

// A charge that is cooled by liquid has the exponent 0.7, one cooled by air or not at all 1.2 (from memory): 97 kPa and 303 K
// give 1.02627 and 1.03485 where fm is 1.
func TestChargeCoolingChooses(t *testing.T) {
	qc := (1 + 1.14) / 0.036
	for liquid, want := range map[bool]float64{false: 1.03485, true: 1.02627} {
		got, err := CorrectionFactor("iso1585-1992", Atmosphere{Dry: 97, TempC: 303 - 273.15, FuelMgLC: 2 * qc, Charge: 2, LiquidCAC: liquid})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "factor", got, want, 2e-5)
	}
}

// Where the authors of a standard withdrew it for such engines, its entry says so: UNECE GRPE-70-02 (2014) for engines that compensate
// ambient air by themselves, a work-in-progress note of SAE J1349 for modern diesels.
func TestStandardsSayTheirCautions(t *testing.T) {
	for _, s := range Standards() {
		if s.Name != NoStandard && (s.Caution == "" || s.Validity == "" || s.Source == "" || s.Formula == "") {
			t.Errorf("%s: %+v", s.Name, s)
		}
	}
}
