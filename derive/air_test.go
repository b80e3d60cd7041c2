package derive

import (
	"math"
	"testing"
)

// Heywood, Internal Combustion Engine Fundamentals, eq. 3.6 (from memory), reckoned independently for fuels CH_y.
func TestStoichRatio(t *testing.T) {
	for y, want := range map[float64]float64{1.70: 14.353, 1.80: 14.499, 1.85: 14.570, 1.86: 14.585, 1.90: 14.642, 2.00: 14.783} {
		near(t, "stoichiometric ratio", StoichRatio(y), want, 0.005) // The formula's constants are rounded.
	}
	near(t, "diesel of CH1.8 is what is taken unstated", DieselStoich, StoichRatio(1.80), 0.005)
}

// 100 g/s of air and 5 g/s of fuel: 20 by mass, 1.3793 over 14.5 (definition).
func TestLambda(t *testing.T) {
	ratio := AirFuelRatio(0.100, 0.005)
	near(t, "air over fuel", ratio, 20, 1e-12)
	near(t, "lambda", Lambda(ratio, 14.5), 1.3793, 5e-5)
	near(t, "lambda of an unstated fuel", Lambda(ratio, 0), 1.3793, 5e-5)
	near(t, "lambda of another fuel", Lambda(ratio, 10), 2, 1e-12)
	for _, m := range [][2]KgPerS{{0.1, 0}, {0.1, -1}, {0, 0.1}, {-1, 0.1}, {0.1, KgPerS(nan)}, {KgPerS(nan), 0.1}} {
		if r := AirFuelRatio(m[0], m[1]); !math.IsNaN(r) {
			t.Errorf("AirFuelRatio(%v, %v) = %v, want none", m[0], m[1], r)
		}
	}
}

// 40 CFR 1065.602(l)(1) has these inputs: 300 kPa, 3.0 L, 2800 1/min, 348.15 K and an efficiency of 0.9. Its answer, 6.53 mol/s, is
// 189.12 g/s by R = 287.055 J/(kg·K).
func TestSpeedDensity(t *testing.T) {
	ideal := IdealAir(300, 348.15, 3.0, 2800, 4)
	air := SpeedDensity(0.9, ideal)
	near(t, "air in g/s", 1000*float64(air), 189.12, 0.005)
	near(t, "air in mol/s", float64(air)*AirConstant/8.314472, 6.53, 0.005)
	near(t, "back to the efficiency", VolumetricEfficiency(air, ideal), 0.9, 1e-12)
	near(t, "a two-stroke fills twice as often", float64(IdealAir(300, 348.15, 3.0, 2800, 2)/ideal), 2, 1e-12)
	near(t, "unstated strokes are four", float64(IdealAir(300, 348.15, 3.0, 2800, 0)/ideal), 1, 0)
	near(t, "standstill", float64(IdealAir(300, 348.15, 3.0, 0, 4)), 0, 0)
	// Keswani, Internal Combustion Engines, ex. 18.1: 6 cylinders of 90 x 100 mm, 2500 1/min, 1.6 kgf/cm², 60 °C, efficiency 0.75:
	// 5.871 kg/min with pi as 3.14 and R as 29.27 kgf·m/(kg·K); full pi gives 0.05 % more.
	litres := 6 * math.Pi / 4 * 0.9 * 0.9 * 1.0
	near(t, "textbook's air in kg/min", 60*float64(SpeedDensity(0.75, IdealAir(1.6*98.0665, Celsius(60), litres, 2500, 4))), 5.871, 0.0006*5.871)
}

func TestIdealAirIsRefused(t *testing.T) {
	for name, m := range map[string]KgPerS{
		"no pressure": IdealAir(0, 300, 2, 1000, 4), "no temperature": IdealAir(100, 0, 2, 1000, 4), "no displacement": IdealAir(100, 300, 0, 1000, 4),
		"backwards": IdealAir(100, 300, 2, -1, 4), "missing speed": IdealAir(100, 300, 2, nan, 4), "missing temperature": IdealAir(100, Celsius(nan), 2, 1000, 4),
		"below absolute zero": IdealAir(100, Celsius(-300), 2, 1000, 4),
	} {
		if !math.IsNaN(float64(m)) {
			t.Errorf("%s: %v, want none", name, m)
		}
	}
	for _, m := range [][2]KgPerS{{0, 1}, {1, 0}, {-1, 1}, {KgPerS(nan), 1}} {
		if v := VolumetricEfficiency(m[0], m[1]); !math.IsNaN(v) {
			t.Errorf("VolumetricEfficiency(%v, %v) = %v, want none", m[0], m[1], v)
		}
	}
}

// Air rises with pressure, displacement and speed in proportion, and falls with temperature.
func TestIdealAirIsMonotonic(t *testing.T) {
	base := IdealAir(200, 320, 2, 2000, 4)
	for name, m := range map[string]KgPerS{"pressure": IdealAir(400, 320, 2, 2000, 4), "temperature": IdealAir(200, 160, 2, 2000, 4), "displacement": IdealAir(200, 320, 4, 2000, 4), "speed": IdealAir(200, 320, 2, 4000, 4)} {
		near(t, name, float64(m/base), 2, 1e-12)
	}
}

// 50 mg into each of 4 cylinders, 1000 cycles a minute: 12 kg/h (definition).
func TestInjectedFuel(t *testing.T) {
	near(t, "four-stroke in kg/h", InjectedFuel(50, 4, 2000, 4).KGH(), 12, 1e-9)
	near(t, "two-stroke in kg/h", InjectedFuel(50, 4, 2000, 2).KGH(), 24, 1e-9)
	near(t, "none injected", float64(InjectedFuel(0, 4, 2000, 4)), 0, 0)
	for name, m := range map[string]KgPerS{"no cylinders": InjectedFuel(50, 0, 2000, 4), "below zero": InjectedFuel(-1, 4, 2000, 4), "backwards": InjectedFuel(1, 4, -1, 4), "missing": InjectedFuel(nan, 4, 2000, 4)} {
		if !math.IsNaN(float64(m)) {
			t.Errorf("%s: %v, want none", name, m)
		}
	}
	// The same fuel by litre and cycle as the power corrections have it.
	near(t, "round trip through litres and cycles", FuelPerLitreCycle(1000*float64(InjectedFuel(50, 4, 2000, 4)), 2, 2000, 4), 100, 1e-9)
}
