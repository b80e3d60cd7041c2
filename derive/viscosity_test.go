package derive

import (
	"math"
	"testing"
)

// Dynamic viscosity in the US Standard Atmosphere 1976, table III, at sea level and at 11 km and 5 km of geopotential height (from memory).
func TestViscosityOfTheStandardAtmosphere(t *testing.T) {
	for _, p := range []struct{ kelvin, want float64 }{{288.15, 1.7894e-5}, {255.65, 1.6281e-5}, {216.65, 1.4216e-5}} {
		if got := Viscosity(Kelvin(p.kelvin)); math.Abs(got/p.want-1) > 1e-4 {
			t.Errorf("%g K: %.5g, want %.5g", p.kelvin, got, p.want)
		}
	}
	for _, k := range []float64{99, 1901, math.NaN()} {
		if got := Viscosity(Kelvin(k)); !math.IsNaN(got) {
			t.Errorf("%g K: %g, want none", k, got)
		}
	}
}

// A filter of one permeability shows one referred resistance, whatever the gas's temperature: the loss is made by Darcy's law.
func TestReferredResistanceIsOfTheFilterAlone(t *testing.T) {
	const permeability = 1.2e9 // Loss over viscosity and flow, 1/m³.
	for _, c := range []float64{50, 200, 350, 600} {
		at, flow := Celsius(c), 0.2
		loss := DiffKPa(permeability * Viscosity(at) * flow / 1000)
		resist := FilterResistance(loss, flow)
		near(t, "referred", ReferredResistance(resist, at), permeability*Viscosity(ViscosityReference)/1000, 1e-9)
		if c > 25 && !(resist > ReferredResistance(resist, at)) {
			t.Errorf("%g °C: hot gas must show more", c)
		}
	}
}

func TestFilterShare(t *testing.T) {
	near(t, "share", FilterShare(6, 20), 0.3, 1e-12)
	for _, system := range []DiffKPa{1.9, -5, DiffKPa(math.NaN())} {
		if got := FilterShare(1, system); !math.IsNaN(got) {
			t.Errorf("%g kPa: %g, want none", system, got)
		}
	}
}
