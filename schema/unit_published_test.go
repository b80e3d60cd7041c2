package schema

import (
	"math"
	"testing"
)

// Factors to the last digit that is published or follows from a definition: NIST SP 811 (2008) app. B.8 (from memory where it is
// a rounded one) and GNU units' definitions.
func TestExactFactors(t *testing.T) {
	for _, c := range []struct {
		from, to string
		want     float64
		tol      float64
	}{
		{"psi", "kPa", 6.894757293168, 5e-13},
		{"psi", "kPa", 0.45359237 * 9.80665 / (0.0254 * 0.0254) / 1000, 1e-14}, // The definition.
		{"psi", "kPa", 6.894757, 5e-7},                                         // SP 811.
		{"inHg", "kPa", 3.386388640, 5e-10},
		{"inHg", "kPa", 13.5951 * 9.80665 * 0.0254, 1e-12},
		{"inHg", "kPa", 3.386389, 5e-7}, // SP 811.
		{"mmHg", "kPa", 0.133322387415, 5e-13},
		{"inH2O", "kPa", 0.24908891, 5e-10}, // Conventional, 1 g/cm³.
		{"mbar", "kPa", 0.1, 0}, {"hPa", "kPa", 0.1, 0}, {"bar", "kPa", 100, 0}, {"atm", "kPa", 101.325, 0},
		{"ft-lb", "N·m", 1.3558179483314, 5e-14},
		{"lbf-in", "N·m", 0.112984829028, 5e-13},
		{"kgf·m", "N·m", 9.80665, 0},
		{"hp", "kW", 0.745699871582, 5e-13},
		{"hp", "kW", 550 * 0.3048 * 0.45359237 * 9.80665 / 1000, 1e-15},
		{"PS", "kW", 0.73549875, 0},
		{"mph", "m/s", 0.44704, 1e-15},
		{"mph", "km/h", 1.609344, 0},
		{"lb/min", "kg/s", 0.007559872833, 5e-13},
		{"gal/h", "L/h", 3.785411784, 0},
		{"kgf/cm2", "kPa", 98.0665, 0},
	} {
		from, ok1 := ParseUnit(c.from)
		to, ok2 := ParseUnit(c.to)
		got, err := from.Convert(1, to)
		if !ok1 || !ok2 || err != nil || math.Abs(got-c.want) > c.tol {
			t.Errorf("1 %s = %.15g %s, want %.15g ± %g (%v)", c.from, got, c.to, c.want, c.tol, err)
		}
	}
}

// Inches of water differ by what is taken for its density: 0.24908891 kPa by convention, 0.24884 at 60 °F, 0.248641 at 20 °C (NIST
// SP 811, from memory). Ours is the first.
func TestWaterIsTheConventionalOne(t *testing.T) {
	u, _ := ParseUnit("inH2O")
	if math.Abs(u.Factor-0.24884) < 2e-4 || math.Abs(u.Factor-0.248641) < 4e-4 {
		t.Errorf("1 inH2O = %v kPa, which is that of warm water", u.Factor)
	}
}

// 77 °F are 25.0 °C and 298.15 K; K = (t + 459.67)/1.8 (definition).
func TestTemperatures(t *testing.T) {
	f, _ := ParseUnit("°F")
	c, _ := ParseUnit("°C")
	k, _ := ParseUnit("K")
	for _, r := range [][3]float64{{77, 25, 298.15}, {-459.67, -273.15, 0}, {32, 0, 273.15}, {212, 100, 373.15}} {
		inC, _ := f.Convert(r[0], c)
		inK, _ := f.Convert(r[0], k)
		if math.Abs(inC-r[1]) > 1e-9 || math.Abs(inK-r[2]) > 1e-9 || math.Abs(inK-(r[0]+459.67)/1.8) > 1e-9 {
			t.Errorf("%v °F = %v °C, %v K, want %v", r[0], inC, inK, r[1:])
		}
		if back, _ := k.Convert(inK, f); math.Abs(back-r[0]) > 1e-9 {
			t.Errorf("%v K = %v °F, want %v", inK, back, r[0])
		}
	}
}
