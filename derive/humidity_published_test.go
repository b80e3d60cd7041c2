package derive

import (
	"math"
	"testing"
)

// goffGratch is the saturation pressure over water as 40 CFR 1065.645 has it, in kPa (coefficients from memory).
func goffGratch(c float64) float64 {
	t := c + 273.15
	r, q := 273.16/t, t/273.16
	return math.Pow(10, 10.79574*(1-r)-5.02800*math.Log10(q)+1.50475e-4*(1-math.Pow(10, -8.2969*(q-1)))+0.42873e-3*(math.Pow(10, 4.76955*(1-r))-1)-0.2138602)
}

// buck is Buck's formula of 1996 and magnus the one of the World Meteorological Organization, both in kPa (from memory).
func buck(c float64) float64   { return 0.61121 * math.Exp((18.678-c/234.5)*c/(257.14+c)) }
func magnus(c float64) float64 { return 0.6112 * math.Exp(17.62*c/(243.12+c)) }

// Four formulas and a table of the vapour pressure of water: the CRC Handbook of Chemistry and Physics 1992-93, IAPWS-IF97 equation 30,
// Goff and Gratch as in 40 CFR 1065.645, Buck 1996 and the WMO's Magnus formula, in kPa. What the formulas are apart from the handbook is
// stated with them: 0.05, 0.11, 0.03 and 0.3 %.
func TestVapourPressureBySeveralFormulas(t *testing.T) {
	for _, r := range []struct{ c, crc, if97, goff, buck, magnus float64 }{
		{0, 0.61129, 0.61121, 0.61069, 0.61121, 0.61120}, {10, 1.2281, 1.22818, 1.22709, 1.22786, 1.22603}, {20, 2.3388, 2.33921, 2.33708, 2.33834, 2.33260},
		{25, 3.1690, 3.16975, 3.16682, 3.16853, 3.16006}, {30, 4.2455, 4.24669, 4.24272, 4.24513, 4.23372}, {40, 7.3814, 7.38443, 7.37733, 7.38236, 7.36746},
	} {
		near(t, "IF97", VapourPressure(r.c), r.if97, 6e-6)
		near(t, "Goff and Gratch", goffGratch(r.c), r.goff, 6e-6)
		near(t, "Buck", buck(r.c), r.buck, 6e-6)
		near(t, "Magnus", magnus(r.c), r.magnus, 6e-6)
		for name, v := range map[string][2]float64{"IF97": {VapourPressure(r.c), 0.0005}, "Goff and Gratch": {goffGratch(r.c), 0.0011}, "Buck": {buck(r.c), 0.0003}, "Magnus": {magnus(r.c), 0.003}} {
			near(t, name+" against the handbook", v[0]/r.crc, 1, v[1])
		}
		near(t, "IF97 against Goff and Gratch", VapourPressure(r.c)/goffGratch(r.c), 1, 0.0011)
	}
}

// 40 CFR 1065.645's worked examples: a dew point of 9.5 °C is 1.186581 kPa, 20 °C 2.3371 kPa; of 99.980 kPa that is 0.011868 mol/mol, as
// is 50.77 % humidity at 20 °C; 39.61 % at 20 °C are 0.925717 kPa. It stands on Goff and Gratch, 0.11 % from IF97.
func TestVapourExamples(t *testing.T) {
	near(t, "dew point of 9.5 °C", goffGratch(9.5), 1.186581, 5e-7)
	near(t, "20 °C", goffGratch(20), 2.3371, 5e-5)
	near(t, "mole fraction", goffGratch(9.5)/99.980, 0.011868, 5e-7)
	near(t, "mole fraction by humidity", 0.5077*goffGratch(20)/99.980, 0.011868, 5e-7)
	near(t, "39.61 %", 0.3961*goffGratch(20), 0.925717, 5e-6)
	near(t, "dew point of 9.5 °C by IF97", VapourPressure(9.5), 1.186581, 0.0011*1.186581)
	near(t, "dry pressure by IF97", float64(DryPressure(99.980, 50.77, 20)), 99.980*(1-0.011868), 0.0011*1.186581)
	near(t, "39.61 % by IF97", float64(99.980-DryPressure(99.980, 39.61, 20)), 0.925717, 0.0011*0.925717)
}

// The equation ends where liquid water does: at 0 °C (below it is ice) and at the critical point, 647.096 K and 22.064 MPa (IAPWS).
func TestVapourPressureBounds(t *testing.T) {
	near(t, "critical point", VapourPressure(647.096-273.15-1e-9), 22064, 0.5)
	for _, c := range []float64{-0.001, 374.0, nan} {
		if p := VapourPressure(c); !math.IsNaN(p) {
			t.Errorf("VapourPressure(%v) = %v, want none", c, p)
		}
	}
	last := 0.0
	for c := 0.0; c < 373; c++ {
		if p := VapourPressure(c); !(p > last) {
			t.Fatalf("at %v °C %v kPa, less than a degree below", c, p)
		} else {
			last = p
		}
	}
}

// R of dry air is 8314.46 J/(kmol·K) over 28.9644 to 28.966 kg/kmol, 287.05 J/(kg·K); of vapour over 18.01528 kg/kmol, 461.52.
func TestGasConstants(t *testing.T) {
	near(t, "dry air", AirConstant, 8314.46/28.9644, 0.005)
	near(t, "dry air of 40 CFR 1065.640", AirConstant, 8314.46/28.96559, 0.02)
	near(t, "vapour", vapourConstant, 8314.46/18.01528, 0.01)
	near(t, "the standard atmosphere's R", AirConstant, 8314.32/28.9644, 0.005)
	// Exhaust of a lean diesel is near air of its temperature: 1.10 to 1.15 kJ/(kg·K), 1.33 to 1.35 (from memory); at 900 K air has
	// 1.121 and 1.344 (NBS Circular 564), and 1.148 and 1.333 are the gas turbine textbook's pair (Cohen and Rogers, from memory).
	for _, r := range [][2]float64{{1.121, 1.344}, {1.148, 1.333}} {
		near(t, "R of exhaust", r[0]*(1-1/r[1]), 0.2867, 0.0006)
	}
}
