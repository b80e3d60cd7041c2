package derive

import (
	"math"
	"testing"
)

// Carbon's share of a diesel fuel's mass: 0.8688 for CH1.80, 0.8650 for CH1.86, reckoned from the atoms' masses; 40 CFR 1065.655 has 0.869
// for 1.80 (from memory).
func TestCarbonFraction(t *testing.T) {
	near(t, "CH1.80", CarbonFraction(1.80), 0.8688, 5e-5)
	near(t, "CH1.86", CarbonFraction(1.86), 0.8650, 5e-5)
	near(t, "40 CFR 1065.655", CarbonFraction(1.80), 0.869, 5e-4)
	near(t, "carbon alone", CarbonFraction(0), 1, 0)
}

// Diesel of CH1.80 to CH1.86 takes 14.4 to 14.6 times its mass of air (Heywood app. D, from memory).
func TestDieselStoichRange(t *testing.T) {
	for _, y := range []float64{1.80, 1.83, 1.86} {
		near(t, "stoichiometric ratio", StoichRatio(y), 14.5, 0.1)
	}
}

// Lambda of the exhaust's oxygen is 1 + x/(0.2095 - x) 0.94 at CH1.8 (from memory). The balance itself: a mole of CH_y burns with
// lambda s moles of oxygen, s = 1 + y/4, and leaves one of carbon dioxide, (lambda - 1) s of oxygen and the air's nitrogen.
func TestLambdaOfOxygen(t *testing.T) {
	for _, x := range []float64{0.01, 0.05, 0.10, 0.15} {
		near(t, "by the rounded factor", LambdaOfOxygen(x, 1.8), 1+x/(0.2095-x)*0.94, 0.006*(LambdaOfOxygen(x, 1.8)-1))
	}
	for _, y := range []float64{1.7, 1.8, 2.0, 4.0} {
		for _, lambda := range []float64{1, 1.2, 1.8, 3, 7} {
			s := 1 + y/4
			left := (lambda - 1) * s
			nitrogen := lambda * s * (1 - 0.2095) / 0.2095
			near(t, "from the balance", LambdaOfOxygen(left/(1+left+nitrogen), y), lambda, 1e-9)
		}
	}
	for _, c := range [][2]float64{{-0.01, 1.8}, {0.2095, 1.8}, {0.05, 0}, {nan, 1.8}} {
		if l := LambdaOfOxygen(c[0], c[1]); !math.IsNaN(l) {
			t.Errorf("LambdaOfOxygen%v = %v, want none", c, l)
		}
	}
}

// 60 mm³ a stroke of a fuel with 835 kg/m³ are 50.10 mg; in 4 cylinders at 2000 1/min, 66.667 injections a second, 3.340 g/s (definition).
func TestInjectedVolume(t *testing.T) {
	mg := 60 * 0.835
	near(t, "mg a stroke", mg, 50.10, 1e-9)
	near(t, "injections a second", 4*2000/120., 66.667, 5e-4)
	near(t, "g/s", 1000*float64(InjectedFuel(mg, 4, 2000, 4)), 3.340, 5e-7)
}

// The constants between torque, speed and power: 33000/(2 pi) with lb-ft and hp, 60000/(2 pi) with N·m and kW, and with PS.
func TestTorqueSpeedConstants(t *testing.T) {
	const horse, metric = 0.7456998715822702, 0.73549875 // kW.
	near(t, "lb-ft and hp", TorqueSpeed*horse/footPound, 5252.113, 5e-4)
	near(t, "N·m and PS", TorqueSpeed*metric, 7023.496, 5e-4)
	near(t, "33000/(2 pi)", 33000/(2*math.Pi), 5252.113, 5e-4)
	near(t, "300 lb-ft at 5252.113 1/min in hp", PowerOfTorque(300*footPound, 5252.113)/horse, 300, 1e-4)
}

// Keswani ex. 23.6 prints a mean pressure of 6.47 kgf/cm² because its script divides whole numbers (678/100 gives 6): 7.31 is right, and
// 6.47 times 6.78/6 is that.
func TestTextbookThatDividesIntegers(t *testing.T) {
	near(t, "kgf/cm²", 6.47*6.78/6, 7.31, 0.005)
}

// Keswani ex. 18.1: 50.61 PS and 4.774 kgf/cm² beside the 37.227 kW and 468.14 kPa.
func TestTextbookInItsUnits(t *testing.T) {
	torque := 14.5 * 9.80665
	near(t, "N·m", torque, 142.196, 5e-4)
	near(t, "PS", PowerOfTorque(torque, 2500)/0.73549875, 50.61, 0.005)
	near(t, "kgf/cm²", float64(BMEP(torque, 6*math.Pi/4*0.9*0.9, 4))/98.0665, 4.774, 5e-4)
}
