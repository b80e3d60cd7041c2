package derive

import (
	"fmt"
	"math"
	"testing"

	"dynolake/derive/stats"
)

const (
	footPound = 1.3558179483314004 // J (NIST SP 811 app. B.8).
	poundMass = 0.45359237         // kg.
	foot      = 0.3048             // m.
	poundForc = 4.4482216152605    // N.
)

// 40 CFR 1066.250: 48.26 ft·lbm/s² hold a roller's speed-up from 14.67 to 58.67 ft/s in 30.00 s: base inertia 32.90 lbm.
func TestInertiaForceGivesBackBaseInertia(t *testing.T) {
	a := (58.67 - 14.67) * foot / 30
	near(t, "force", InertiaForce(32.90*poundMass, a), 48.26*poundMass*foot, 0.005*poundMass*foot+1e-3)
}

// 40 CFR 1066.260: 62.16 lbf·s²/ft slow from 14.7 to 13.5 ft/s in 60.0 s: -17.5 ft·lbf/s, -0.032 hp.
// At constant acceleration the mean power is the force times the mean speed.
func TestPowerOfInertiaInFrictionExample(t *testing.T) {
	mass := 62.16 * poundForc / foot
	v0, v1 := 14.7*foot, 13.5*foot
	power := 1000 * PowerOfForce(InertiaForce(mass, (v1-v0)/60), MPerS((v0+v1)/2))
	near(t, "power in ft·lbf/s", power/footPound, -17.5, 0.05)
	near(t, "power in hp", power/745.6998715822702, -0.032, 0.0005)
}

// 40 CFR 1037.528(h)(4): 17129 kg slow from 31.28 to 26.77 m/s between 3.05 and 19.11 s, climbing 0.503 m in 482.4 m with
// 16108 kg: 4645.5 N of road load. The grade's share is taken off here, as a road is taken as level.
func TestInertiaForceInCoastdownExample(t *testing.T) {
	force := InertiaForce(17129, -(26.77-31.28)/(19.11-3.05)) - 16108*9.8061*(0.547-0.044)/(697.8-215.4)
	near(t, "road load", force, 4645.5, 0.05)
}

// 40 CFR 86.529-98, rows of its table: equivalent mass in kg, A in N, C in N/(km/h)², force at 65 km/h and the time to coast
// from 70 to 60 km/h. The time follows from M dv/dt = -F(v), integrated here in small steps.
func TestSpeedForceInCoastdownTable(t *testing.T) {
	for _, r := range []struct{ mass, a, c, force, seconds float64 }{
		{100, 0, .0224, 94.8, 2.95}, {150, 4.32, .0238, 104.9, 3.99}, {200, 8.69, .0252, 115.1, 4.85},
		{250, 13.06, .0266, 125.3, 5.57}, {300, 17.43, .0279, 135.4, 6.18}, {340, 20.92, .0290, 143.6, 6.60},
	} {
		load := []float64{r.a, 0, r.c}
		near(t, "force at 65 km/h", SpeedForce(load, 65), r.force, 0.3) // The table rounds C to three digits.
		seconds, step := 0.0, 0.001
		for v := 70 - step/2; v > 60; v -= step {
			seconds += r.mass * step / 3.6 / SpeedForce(load, v)
		}
		near(t, "coastdown time", seconds, r.seconds, 0.02)
		near(t, "coastdown time in closed form", CoastdownTime(r.mass, r.a, r.c, 70, 60), seconds, 1e-5)
	}
}

func TestCoastdownTimeBounds(t *testing.T) {
	near(t, "a constant force", CoastdownTime(360, 50, 0, 70, 60), 20, 1e-9)
	near(t, "nearly a constant force", CoastdownTime(360, 50, 1e-12, 70, 60), 20, 1e-6)
	near(t, "nearly drag alone", CoastdownTime(360, 1e-9, 0.03, 70, 60), CoastdownTime(360, 0, 0.03, 70, 60), 1e-6)
	near(t, "no way", CoastdownTime(360, 50, 0.03, 60, 60), 0, 0)
	for _, c := range [][5]float64{{0, 50, 0.03, 70, 60}, {360, 0, 0, 70, 60}, {360, -1, 0.03, 70, 60}, {360, 50, -1, 70, 60}, {360, 50, 0.03, 60, 70}, {360, 50, 0.03, 70, -1}, {nan, 50, 0.03, 70, 60}} {
		if v := CoastdownTime(c[0], c[1], c[2], c[3], c[4]); !math.IsNaN(v) {
			t.Errorf("CoastdownTime%v = %v, want none", c, v)
		}
	}
}

// A roller of 20 kg·m² and 0.30 m radius, from 60 to 180 km/h in 8 s, at 120 km/h: J omega domega/dt is 30.864 kW and J/r² is
// 222.22 kg (from the definitions).
func TestPowerOfInertiaEqualsThatOfTheShaft(t *testing.T) {
	const j, r = 20.0, 0.30
	a := (180 - 60) / 3.6 / 8
	shaft := j * (120 / 3.6 / r) * (a / r) / 1000
	got := PowerOfForce(InertiaForce(j/(r*r), a), KMH(120))
	near(t, "power", got, 30.864, 5e-4)
	near(t, "power of the shaft", got, shaft, 1e-12)
}

// 400 N·m at 2000 1/min are 83.7758 kW; the constant is 60000/(2 pi).
func TestTorqueAndPower(t *testing.T) {
	near(t, "constant", TorqueSpeed, 60000/(2*math.Pi), 1e-9)
	near(t, "constant", TorqueSpeed, 9549.297, 5e-4)
	near(t, "power", PowerOfTorque(400, 2000), 83.7758, 5e-5)
	near(t, "power of 40 CFR 1065.650's example, from memory", PowerOfTorque(177.23, 1800.2), 33.41, 5e-3)
	for _, n := range []float64{301, 900, 4321} {
		near(t, "round trip", TorqueOfPower(PowerOfTorque(123.4, n), n), 123.4, 1e-10)
	}
	for _, n := range []float64{300, 0, -5, math.NaN()} {
		if got := TorqueOfPower(50, n); !math.IsNaN(got) {
			t.Errorf("TorqueOfPower(50, %v) = %v, want NaN", n, got)
		}
	}
}

// First-derivative weights for a quadratic (Savitzky and Golay, Anal. Chem. 36, 1964): -m … m over their sum of squares: 10, 28,
// 60, 110 for 5, 7, 9, 11 points. The response to a unit impulse at each place gives the weights of the local fit.
func TestAccelerationIsSavitzkyGolayOnAnEvenClock(t *testing.T) {
	for m, norm := range map[int]float64{2: 10, 3: 28, 4: 60, 5: 110} {
		const h = 0.1
		n := 2*m + 1
		for k := 0; k < n; k++ {
			clock, x := make([]float64, n), make([]float64, n)
			for i := range clock {
				clock[i] = h * float64(i)
			}
			x[k] = 1
			_, slope := stats.Local(clock, x, nil, clock[m], h*(float64(m)+0.5), 2)
			near(t, fmt.Sprintf("weight %d of %d", k, n), slope*h, float64(k-m)/norm, 1e-12)
		}
	}
}

func TestAccelerationOnUnevenClocks(t *testing.T) {
	var clock, v []float64
	for x := 0.0; x < 10; x += 0.04 + 0.05*math.Abs(math.Sin(37*x)) {
		clock, v = append(clock, x), append(v, 40+7*x-0.3*x*x)
	}
	v[20] = math.NaN()
	a := Acceleration(clock, v)
	for i := range clock {
		if i == 20 {
			if !math.IsNaN(a[i]) {
				t.Errorf("a missing speed gives %v", a[i])
			}
			continue
		}
		near(t, "acceleration", a[i], (7-0.6*clock[i])/3.6, 1e-9)
	}
}

// A speed in whole km/h, and one interpolated from a slow clock, must not turn into spikes of acceleration.
func TestAccelerationOfCoarseSpeeds(t *testing.T) {
	for name, coarse := range map[string]func(x float64) float64{
		"whole km/h": func(x float64) float64 { return math.Round(50 + 10*x) },
		"2 Hz interpolated": func(x float64) float64 {
			k := math.Floor(x/0.5) * 0.5
			at := func(x float64) float64 { return 50 + 10*x + 0.15*math.Sin(40*x) }
			return at(k) + (at(k+0.5)-at(k))*(x-k)/0.5
		},
	} {
		var clock, v []float64
		for i := 0; i < 200; i++ {
			x := 0.05 * float64(i)
			clock, v = append(clock, x), append(v, coarse(x))
		}
		a := Acceleration(clock, v)
		for i := 30; i < 170; i++ {
			if math.Abs(a[i]*3.6-10) > 0.8 {
				t.Errorf("%s: %.2f km/h/s at %.2f s, want 10 ± 0.8", name, a[i]*3.6, clock[i])
				break
			}
		}
	}
}

func TestSpeedForceBounds(t *testing.T) {
	near(t, "standstill", SpeedForce([]float64{120, 0.9, 0.03}, 0), 120, 0)
	near(t, "backwards", SpeedForce([]float64{120, 0.9, 0.03}, -10), 120, 0)
	near(t, "none", SpeedForce(nil, 50), 0, 0)
	near(t, "one", SpeedForce([]float64{7}, 50), 7, 0)
	if v := SpeedForce([]float64{1, 1}, math.NaN()); !math.IsNaN(v) {
		t.Errorf("a missing speed gives %v", v)
	}
}
