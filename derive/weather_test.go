package derive

import (
	"math"
	"testing"
)

// US Standard Atmosphere 1976 by its layer equations: T in K, p in Pa and density in kg/m³ by geopotential and by geometric height.
func TestStandardAtmosphere(t *testing.T) {
	for _, r := range []struct{ h, t, p, rho, tz, pz, rhoz float64 }{
		{0, 288.150, 101325.0, 1.22500, 288.150, 101325.0, 1.22500}, {500, 284.900, 95460.8, 1.16727, 284.900, 95461.3, 1.16727},
		{1000, 281.650, 89874.6, 1.11164, 281.651, 89876.3, 1.11166}, {1500, 278.400, 84556.0, 1.05807, 278.402, 84559.7, 1.05810},
		{2000, 275.150, 79495.2, 1.00649, 275.154, 79501.4, 1.00655}, {3000, 268.650, 70108.5, 0.90912, 268.659, 70121.2, 0.90925},
	} {
		for _, c := range []struct{ h, t, p, rho float64 }{{r.h, r.t, r.p, r.rho}, {GeopotentialHeight(r.h), r.tz, r.pz, r.rhoz}} {
			at := StandardAtmosphere(c.h)
			near(t, "temperature", float64(at.T), c.t, 0.01)
			near(t, "pressure in Pa", 1000*float64(at.P), c.p, 1)
			near(t, "density", AirDensity(at.P, 0, at.T), c.rho, 2e-5) // R there is 8314.32/28.9644, 1e-5 of it below ours.
		}
	}
	for _, h := range []float64{-5001, 11001, nan} {
		if at := StandardAtmosphere(h); !math.IsNaN(float64(at.P)) || !math.IsNaN(float64(at.T)) {
			t.Errorf("StandardAtmosphere(%v) = %v, want none", h, at)
		}
	}
}

// Air of 25 °C, 100 kPa and 50 % humidity with IF97's vapour pressure; the same without vapour; and the correction standards' dry 99.0
// kPa at 298 K (reckoned independently, R 287.055 and 461.52).
func TestAirDensity(t *testing.T) {
	dry := DryPressure(100, 50, 25)
	near(t, "dry pressure", float64(dry), 98.4151, 5e-5)
	near(t, "moist", AirDensity(dry, 100-dry, Celsius(25)), 1.16142, 5e-6)
	near(t, "dry", AirDensity(100, 0, Celsius(25)), 1.16842, 5e-6)
	near(t, "reference", AirDensity(99, 0, 298), 1.15732, 1e-5)
	near(t, "water a kilogram of dry air", AirDensity(0, 100-dry, 298.15)/AirDensity(dry, 0, 298.15), 0.010016, 5e-6)
	for _, temp := range []Kelvin{0, -1, Kelvin(nan)} {
		if v := AirDensity(100, 1, temp); !math.IsNaN(v) {
			t.Errorf("density at %v K = %v, want none", temp, v)
		}
	}
}

// 40 CFR 1065.640: 0.0169 mol/mol of water make 28.7805 g/mol.
func TestMoistAirMass(t *testing.T) {
	near(t, "g/mol", MoistAirMass(0.0169), 28.7805, 5e-5)
	near(t, "dry air's R in J/(kg·K)", 8314.4626/MoistAirMass(0), AirConstant, 0.02) // Its air has another share of carbon dioxide.
}
