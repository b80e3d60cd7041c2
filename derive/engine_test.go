package derive

import (
	"math"
	"testing"
)

// 3.34 g/s at 60 kW: 200.4 g/kWh; 200 g/kWh of a fuel with 42.5 or 42.8 MJ/kg (Heywood eq. 2.24, from memory).
func TestBSFC(t *testing.T) {
	near(t, "g/kWh", BSFC(3.34e-3, 60), 200.4, 1e-9)
	near(t, "efficiency at 42.5 MJ/kg", ThermalEfficiency(200, 42.5), 0.42353, 5e-6)
	near(t, "efficiency at 42.8 MJ/kg", ThermalEfficiency(200, 42.8), 0.42056, 5e-6)
	near(t, "a kilowatt", BSFC(0.3/3600, 1), 300, 1e-9)
	for name, v := range map[string]float64{
		"below a kilowatt": BSFC(0.001, 0.999), "driven": BSFC(0.001, -20), "no fuel": BSFC(0, 50), "fuel below zero": BSFC(-1, 50), "missing power": BSFC(0.001, nan), "missing fuel": BSFC(KgPerS(nan), 50),
		"no heat": ThermalEfficiency(200, 0), "no consumption": ThermalEfficiency(0, 42.8),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %v, want none", name, v)
		}
	}
}

// 400 N·m of 1.968 L: 2554.1 kPa (Heywood eq. 2.20, from memory, whose 6.28 gives 2552.8). Keswani ex. 18.1: 14.5 kgf·m at 2500 1/min
// on 6 cylinders of 90 x 100 mm: 37.227 kW, and with a mechanical efficiency of 0.74 an indicated mean pressure of 6.45 kgf/cm².
func TestBMEP(t *testing.T) {
	near(t, "kPa", float64(BMEP(400, 1.968, 4)), 2554.1, 0.05)
	near(t, "by 6.28", float64(BMEP(400, 1.968, 4))*6.28/(2*math.Pi), 2552.8, 0.05)
	near(t, "a two-stroke's", float64(BMEP(400, 1.968, 2)), 2554.1/2, 0.05)
	near(t, "driven", float64(BMEP(-40, 1.968, 4)), -255.41, 0.005)
	litres := 6 * math.Pi / 4 * 0.9 * 0.9 * 1.0
	torque := 14.5 * 9.80665
	near(t, "textbook's power", PowerOfTorque(torque, 2500), 37.227, 5e-4)
	near(t, "textbook's bmep in kPa", float64(BMEP(torque, litres, 4)), 468.14, 0.05)
	near(t, "textbook's imep in kgf/cm²", float64(BMEP(torque, litres, 4))/98.0665/0.74, 6.45, 0.002*6.45)
	for _, litres := range []float64{0, -1, nan} {
		if p := BMEP(400, litres, 4); !math.IsNaN(float64(p)) {
			t.Errorf("BMEP of %v L = %v, want none", litres, p)
		}
	}
	// Work a cycle is mean pressure times displacement: 2 pi T over two turns.
	near(t, "work a cycle in J", float64(BMEP(400, 1.968, 4))*1.968, 2*2*math.Pi*400, 1e-9)
}

// 40 CFR 1065.650 has 1800.2 1/min and 177.23 N·m: 33.41 kW (from memory).
func TestPowerExample(t *testing.T) { near(t, "kW", PowerOfTorque(177.23, 1800.2), 33.41, 0.005) }

// 95.5 mm at 4000 1/min and 130 mm at 1800 1/min (definition).
func TestPistonSpeed(t *testing.T) {
	near(t, "m/s", PistonSpeed(95.5, 4000), 12.733, 5e-4)
	near(t, "m/s", PistonSpeed(130, 1800), 7.800, 1e-12)
}
