package derive

import (
	"math"
	"testing"
)

// Isentropic compression of air with cp/cv = 1.4, reckoned independently; the second row's inputs are Keswani's, Internal Combustion
// Engines, ex. 18.3.
func TestCompressorEfficiency(t *testing.T) {
	near(t, "ideal outlet of 298.15 K by 2.5", 298.15+IsentropicRise(298.15, 2.5, AirGamma), 387.375, 5e-4)
	near(t, "efficiency", CompressorEfficiency(100, 250, 298.15, 408.15), 0.81114, 5e-6)
	near(t, "by the ratio alone", CompressorEfficiency(80, 200, 298.15, 408.15), 0.81114, 5e-6)
	near(t, "ideal outlet of 300 K by 1.75", float64(CompressorOutlet(300, 1.75, 1)), 352.01, 0.005)
	near(t, "outlet at 0.70", float64(CompressorOutlet(300, 1.75, 0.70)), 374.31, 0.005)
	// Keswani ex. 26.5: 288 K by 3.5, 1.15 times the isentropic rise, 0.24 kcal/(kg·K): 34.2 kcal/kg.
	t2 := CompressorOutlet(288, 3.5, 1/1.15)
	near(t, "outlet in the textbook", float64(t2), 288+142.54, 0.005)
	near(t, "work in kcal/kg", GasPower(1, 0.24, 288, t2), 34.2, 0.05)
	near(t, "efficiency in the textbook", CompressorEfficiency(100, 350, 288, t2), 0.8696, 5e-5)
	// Çengel and Boles, Thermodynamics, ex. 7-14 (from memory): 285 K by 8 at 0.80, 0.2 kg/s: 569.5 K and 58.0 kW with cp that varies.
	t2 = CompressorOutlet(285, 8, 0.80)
	near(t, "outlet by 8", float64(t2), 569.5, 0.01*569.5) // A constant cp/cv over 285 to 570 K.
	near(t, "power by 8", GasPower(0.2, AirCp, 285, t2), 58.0, 0.01*58.0)
}

func TestCompressorEfficiencyIsRefused(t *testing.T) {
	for name, v := range map[string]float64{
		"a rise of 4.9 K": CompressorEfficiency(100, 110, 300, 304.9), "cooling": CompressorEfficiency(100, 200, 300, 290), "no inlet pressure": CompressorEfficiency(0, 200, 300, 400),
		"no outlet pressure": CompressorEfficiency(100, -5, 300, 400), "missing pressure": CompressorEfficiency(AbsKPa(nan), 200, 300, 400), "missing temperature": CompressorEfficiency(100, 200, 300, Celsius(nan)),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %v, want none", name, v)
		}
	}
	near(t, "a rise of 5 K", CompressorEfficiency(100, 104, 300, 305), 300*(math.Pow(1.04, 2./7)-1)/5, 1e-9)
	near(t, "an expansion", CompressorEfficiency(100, 90, 300, 310), 300*(math.Pow(0.9, 2./7)-1)/10, 1e-9)
}

func TestCompressorRoundTripAndOrder(t *testing.T) {
	for _, ratio := range []float64{1.2, 1.7, 2.5, 4} {
		for _, eff := range []float64{0.5, 0.7, 0.82} {
			near(t, "round trip", CompressorEfficiency(97, AbsKPa(97*ratio), 310, CompressorOutlet(310, ratio, eff)), eff, 1e-12)
		}
	}
	if a, b := CompressorEfficiency(97, 200, 300, 390), CompressorEfficiency(97, 200, 300, 391); !(a > b) {
		t.Errorf("a warmer outlet is not worse: %v, %v", a, b)
	}
	if a, b := CompressorEfficiency(97, 200, 300, 390), CompressorEfficiency(97, 201, 300, 390); !(a < b) {
		t.Errorf("more pressure at the same outlet temperature is not better: %v, %v", a, b)
	}
}

// nbs564 is cp of air in kJ/(kg·K) and cp/cv at a temperature in K (NBS Circular 564, 1955).
var nbs564 = []struct{ t, cp, k float64 }{
	{250, 1.003, 1.401}, {300, 1.005, 1.400}, {350, 1.008, 1.398}, {400, 1.013, 1.395}, {450, 1.020, 1.391}, {500, 1.029, 1.387}, {600, 1.051, 1.376},
	{700, 1.075, 1.364}, {800, 1.099, 1.354}, {900, 1.121, 1.344}, {1000, 1.142, 1.336}, {1200, 1.173, 1.324},
}

// The gas constant and the constant properties against the table: cp - cv is R in every column, and at 300 K the constants are the table's.
func TestAirAgreesWithTheTable(t *testing.T) {
	for _, r := range nbs564 {
		near(t, "cp - cv", r.cp*(1-1/r.k), AirConstant/1000, 0.0006) // cp and k are rounded to 0.0005 each.
	}
	near(t, "cp at 300 K", AirCp, 1.005, 0.0005)
	near(t, "cp/cv at 300 K", AirGamma, 1.400, 0.0005)
	// At 100 m/s total and static temperature differ by 4.98 K: c²/2cp.
	near(t, "stagnation", 100*100/(2*1000*AirCp), 4.98, 0.005)
}

// published is cp as the table has it, linear between its rows.
func published(t float64) float64 {
	for i := 1; i < len(nbs564); i++ {
		if a, b := nbs564[i-1], nbs564[i]; t <= b.t {
			return a.cp + (b.cp-a.cp)*(t-a.t)/(b.t-a.t)
		}
	}
	return nan
}

// variable is the isentropic efficiency with cp that varies with temperature: the integral of cp/T up to R ln Π gives the ideal
// outlet, the integral of cp the work.
func variable(cp func(kelvin float64) float64, ratio, t1, t2 float64) float64 {
	const step = 0.01
	entropy, work, actual, ts := AirConstant/1000*math.Log(ratio), 0.0, 0.0, t1
	for ; entropy > 0; ts += step {
		entropy -= cp(ts) / ts * step
		work += cp(ts) * step
	}
	for t := t1; t < t2; t += step {
		actual += cp(t) * step
	}
	return work / actual
}

// What the constant properties cost is less than 1.2 % of an efficiency over all that a turbocharger does.
func TestConstantPropertiesCostLittle(t *testing.T) {
	worst := 0.0
	for _, t1 := range []float64{268, 298, 323} {
		for _, ratio := range []float64{1.3, 2, 3, 4} {
			for _, eff := range []float64{0.6, 0.7, 0.8} {
				t2 := float64(CompressorOutlet(Kelvin(t1), ratio, eff))
				if t2 > 500 {
					continue
				}
				worst = max(worst, math.Abs(eff/variable(published, ratio, t1, t2)-1))
			}
		}
	}
	if worst > 0.012 || worst < 0.001 {
		t.Errorf("off by up to %.2f %%, want some, but less than 1.2 %%", 100*worst)
	}
}

// 0.15 kg/s warmed by 110 K; and Keswani ex. 18.1, where all of an engine's 37.227 kW drive the blower, whose cooler takes 16800 kcal/h:
// 30.14 kg/min from 25 °C to 60 °C.
func TestGasPower(t *testing.T) {
	near(t, "compressor in kW", GasPower(0.15, 1.005, 298.15, 408.15), 16.583, 6e-4) // 16.5825, rounded.
	const kcal = 4.1868
	left := 37.227 - 16800*kcal/3600
	near(t, "blower in kW", GasPower(30.14/60, 0.24*kcal, Celsius(25), Celsius(60)), left, 0.003*left) // The book rounds on its way.
}

// 973.15 K over 2.2 with cp/cv 1.33 at 0.70: 800.24 K ideal, 852.11 K at the outlet; 0.156 kg/s of 1.15 kJ/(kg·K) give 21.715 kW;
// flow parameter at 220 kPa 0.022120 (reckoned independently from the definitions).
func TestTurbine(t *testing.T) {
	near(t, "ideal outlet", 973.15+IsentropicRise(973.15, 1/2.2, 1.33), 800.24, 0.005)
	near(t, "efficiency", TurbineEfficiency(220, 100, 973.15, 852.11, 1.33), 0.70, 5e-5)
	near(t, "power in kW", GasPower(0.156, 1.15, 973.15, 852.11), -21.715, 0.005)
	near(t, "flow parameter", TurbineFlow(0.156, State{220, 973.15}), 0.022120, 5e-7)
	near(t, "no flow", TurbineFlow(0, State{220, 973.15}), 0, 0)
	for name, v := range map[string]float64{
		"no expansion": TurbineEfficiency(100, 100, 900, 800, 1.33), "missing outlet": TurbineEfficiency(100, AbsKPa(nan), 900, 800, 1.33),
		"no pressure": TurbineFlow(0.1, State{0, 900}), "missing temperature": TurbineFlow(0.1, State{200, Celsius(nan)}), "backwards": TurbineFlow(-0.1, State{200, 900}), "missing flow": TurbineFlow(KgPerS(nan), State{200, 900}),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %v, want none", name, v)
		}
	}
}

// 0.300 kg/s at 313.15 K and 95 kPa, 120000 1/min, referred to three maps' conditions (reckoned independently; which one a map uses
// varies).
func TestCorrectedFlow(t *testing.T) {
	inlet := State{95, 313.15}
	for _, r := range []struct {
		reference   State
		flow, speed float64
	}{
		{State{100, 298.15}, 0.32364, 117091}, {State{96.2, 302.78}, 0.30895, 117996}, {State{101.325, 288.15}, 0.33357, 115110},
	} {
		near(t, "flow", float64(CorrectedFlow(0.300, inlet, r.reference)), r.flow, 5e-6)
		near(t, "speed", CorrectedSpeed(120000, inlet, r.reference), r.speed, 0.5)
		near(t, "at the reference itself", float64(CorrectedFlow(0.300, r.reference, r.reference)), 0.300, 1e-12)
	}
	// 545 °R and 13.95 psia are 302.78 K and 96.2 kPa.
	near(t, "545 °R", 545/1.8, 302.78, 0.005)
	near(t, "13.95 psia", 13.95*6.894757293168361, 96.2, 0.05)
	if r := MapReference(); r != (State{100, 298}) {
		t.Errorf("reference %+v, want 298 K and 100 kPa", r)
	}
	for name, m := range map[string]KgPerS{
		"backwards": CorrectedFlow(-0.1, inlet, MapReference()), "no pressure": CorrectedFlow(0.1, State{0, 300}, MapReference()), "missing temperature": CorrectedFlow(0.1, State{95, Celsius(nan)}, MapReference()),
	} {
		if !math.IsNaN(float64(m)) {
			t.Errorf("%s: %v, want none", name, m)
		}
	}
}

// 150 °C to 45 °C by air of 25 °C: 0.840 (definition).
func TestCoolerEffectiveness(t *testing.T) {
	near(t, "effectiveness", CoolerEffectiveness(Celsius(150), Celsius(45), Celsius(25)), 0.840, 1e-9)
	near(t, "a perfect cooler", CoolerEffectiveness(Celsius(150), Celsius(25), Celsius(25)), 1, 1e-12)
	near(t, "none", CoolerEffectiveness(Celsius(150), Celsius(150), Celsius(25)), 0, 0)
	near(t, "10 K above the air", CoolerEffectiveness(Celsius(35), Celsius(30), Celsius(25)), 0.5, 1e-9)
	for name, v := range map[string]float64{
		"9.9 K above the air": CoolerEffectiveness(Celsius(34.9), Celsius(30), Celsius(25)), "colder than the air": CoolerEffectiveness(Celsius(10), Celsius(30), Celsius(25)),
		"missing air": CoolerEffectiveness(Celsius(150), Celsius(45), Celsius(nan)), "missing charge": CoolerEffectiveness(Celsius(150), Celsius(nan), Celsius(25)),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %v, want none", name, v)
		}
	}
}
