package derive

import (
	"math"
	"testing"
)

// Total less static temperature at 100 m/s with 1005 J/(kg·K): 4.98 K (definition).
func TestStagnationRise(t *testing.T) {
	near(t, "100 m/s", StagnationRise(100, 1.005), 4.98, 0.005)
	near(t, "twice the speed", StagnationRise(200, 1.005), 4*StagnationRise(100, 1.005), 1e-12)
	near(t, "at rest", StagnationRise(0, 1.005), 0, 0)
	// It is what the gas gives up: cp dT is c²/2 a kilogram.
	near(t, "energy in kW", GasPower(1, 1.005, 300, Kelvin(300+StagnationRise(100, 1.005))), 5, 1e-9)
}

// Keswani ex. 26.5 in kJ/kg: 288 K by 3.5 is 411.95 K ideal and a rise of 142.54 K, 143.2 kJ/kg.
func TestTextbookCompressor(t *testing.T) {
	near(t, "ideal outlet", 288+IsentropicRise(288, 3.5, AirGamma), 411.95, 0.005)
	near(t, "rise", 1.15*IsentropicRise(288, 3.5, AirGamma), 142.54, 0.005)
	near(t, "kJ/kg", GasPower(1, 0.24*4.1868, 288, 288+142.54), 143.2, 0.05)
}

// Çengel and Boles ex. 7-14 with constant properties: 574.1 K and 58.1 kW (reckoned), within 1 % of the 569.5 K and 58.0 kW of
// properties that vary (from memory).
func TestTextbookCompressorWithConstantProperties(t *testing.T) {
	t2 := CompressorOutlet(285, 8, 0.80)
	near(t, "outlet", float64(t2), 574.1, 0.05)
	near(t, "power", GasPower(0.2, 1.005, 285, t2), 58.1, 0.05)
}

// Steady: the turbine's power less the bearings' is the compressor's. 0.156 kg/s with 1.15 kJ/(kg·K) over 121.04 K are 21.71 kW
// and 0.15 kg/s with 1.005 over 110 K 16.58 kW, so that a turbocharger between them would have 0.764 of mechanical efficiency.
func TestPowerBalance(t *testing.T) {
	turbine, compressor := -GasPower(0.156, 1.15, 973.15, 852.11), GasPower(0.15, 1.005, 298.15, 408.15)
	near(t, "balance", compressor/turbine, 16.5825/21.7146, 1e-4)
	near(t, "outlet in °C", 852.11-273.15, 578.96, 0.005)
	near(t, "ideal outlet through the efficiency", 973.15+0.70*IsentropicRise(973.15, 1/2.2, 1.33), 852.11, 0.005)
}

// The right edge of a compressor's map is by convention where its efficiency falls to 58 to 60 % or the speed line turns vertical (from
// memory): figures of such a point are kept, not refused.
func TestChokedCompressorIsKept(t *testing.T) {
	f := frame(map[string][]float64{"inlet_kpa": {97}, "inlet_c": {25}, "compressor_out_kpa": {97 * 1.6}, "compressor_out_c": {float64(CompressorOutlet(298.15, 1.6, 0.58)) - 273.15}})
	Columns(f, unstated())
	near(t, "efficiency", f.Column("compressor_eff_frac")[0], 0.58, 1e-9)
}

// Maps differ in their reference (545 °R and 13.95 psia, 15 °C and 101.325 kPa, 25 °C and 100 kPa; SAE J1826 and J922 were not
// seen), so that it is an argument: the same flow on one map and on another are apart by a constant.
func TestReferenceIsAnArgument(t *testing.T) {
	a, b := State{100, 298.15}, State{96.2, 302.78}
	for _, m := range []KgPerS{0.05, 0.3} {
		for _, inlet := range []State{{95, 313.15}, {88, 280}} {
			near(t, "ratio", float64(CorrectedFlow(m, inlet, b)/CorrectedFlow(m, inlet, a)), 96.2/100*math.Sqrt(298.15/302.78), 1e-12)
		}
	}
}

// What the turbine's formulas take for exhaust gas is the gas turbine textbooks' pair, 1.148 kJ/(kg·K) and 1.333 (Cohen and Rogers, from
// memory): together they make R of a gas near air, and a full-load exhaust's power by them, 0.208 kg/s over 100 K, is 23.88 kW.
func TestExhaustConstants(t *testing.T) {
	near(t, "cp", ExhaustCp, 1.148, 1e-12)
	near(t, "cp/cv", ExhaustGamma, 1.333, 5e-4)
	near(t, "R in kJ/(kg·K)", ExhaustCp*(1-1/ExhaustGamma), 0.287, 5e-4)
	near(t, "power in kW", -GasPower(0.208, ExhaustCp, 900, 800), 23.878, 5e-4)
	near(t, "temperature of 25 °C is the viscosity's reference", float64(ViscosityReference), 298.15, 0)
}
