package derive

import (
	"math"
	"testing"

	"dynolake/derive/stats"
)

// 40 CFR 1066.250: the base inertia found from force and time, 32.9045 lbm unrounded, is -0.18 % off the 32.96 lbm that the
// roller was said to have; each may be off by 1.0 %, their mean by 0.20 %.
func TestBaseInertiaError(t *testing.T) {
	found := 48.26 * 30 / (58.67 - 14.67)
	near(t, "lbm", found, 32.9045, 5e-5)
	near(t, "published", found, 32.90, 0.005)
	near(t, "error in %", 100*(32.90/32.96-1), -0.18, 0.005)
}

// 40 CFR 1066.260: I/(2t) (v_i² - v_f²) unrounded, -17.529 ft·lbf/s and -0.03187 hp; up to 20000 lb 0.15 hp are allowed.
func TestFrictionErrorPower(t *testing.T) {
	kw := PowerOfForce(InertiaForce(62.16*poundForc/foot, (13.5-14.7)*foot/60), MPerS((13.5+14.7)/2*foot))
	near(t, "ft·lbf/s", 1000*kw/footPound, -17.529, 5e-4)
	near(t, "hp", kw/0.7456998715822702, -0.03187, 5e-6)
}

// 40 CFR 1037.528(h)(4): 4810.20 N of inertia less 164.70 N of grade are 4645.5 N. (h)(1): 16108 kg on 18 tyres of 56.7 kg count as
// 17128.6 kg.
func TestRoadForce(t *testing.T) {
	mass := EffectiveMass(16108, 18)
	near(t, "effective mass", mass, 17128.6, 1e-9)
	near(t, "rounded as the example has it", math.Round(mass), 17129, 0)
	a, grade := (26.77-31.28)/(19.11-3.05), (0.547-0.044)/(697.8-215.4)
	near(t, "inertia", RoadForce(17129, 16108, a, 9.8061, 0), 4810.20, 0.02)
	near(t, "grade", RoadForce(17129, 16108, 0, 9.8061, grade), -164.70, 0.02)
	near(t, "road load", RoadForce(17129, 16108, a, 9.8061, grade), 4645.5, 0.05)
}

// 40 CFR 1037.528: 508 turns a mile are 0.315657 a metre, a rolling radius of 0.50420 m (reckoned).
func TestTyreTurns(t *testing.T) {
	turns := 508 / 1609.344
	near(t, "turns a metre", turns, 0.315657, 5e-7)
	near(t, "rolling radius", RollingRadius(turns), 0.50420, 5e-6)
	near(t, "a turn", 2*math.Pi*RollingRadius(turns)*turns, 1, 1e-12)
}

// 40 CFR 1037.528(h)(5): 129.7 N at 28.86 m/s, 52.7 N at 5.84 m/s, 77.0 N between them.
func TestAxleSpinForce(t *testing.T) {
	c := [3]float64{-206.841, 239.8279, 21.27505}
	high, low := AxleSpinForce(c, 0.315657, 28.86), AxleSpinForce(c, 0.315657, 5.84)
	near(t, "at 28.86 m/s", high, 129.7, 0.05)
	near(t, "at 5.84 m/s", low, 52.7, 0.05)
	near(t, "between them", high-low, 77.0, 0.05)
	for _, v := range []MPerS{0, -1, MPerS(nan)} {
		if f := AxleSpinForce(c, 0.3, v); !math.IsNaN(f) {
			t.Errorf("at %v m/s %v N, want none", v, f)
		}
	}
}

// 40 CFR 1037.528(g): a wind of 7.1 mi/h from 47° at 64.9 mi/h is 69.93 mi/h (69.935) from 4.26°.
func TestApparentWind(t *testing.T) {
	speed, yaw := ApparentWind(7.1, 64.9, 47*math.Pi/180)
	near(t, "speed", speed, 69.93, 0.01) // The example cuts 69.935.
	near(t, "speed unrounded", speed, 69.935, 5e-4)
	near(t, "yaw", yaw*180/math.Pi, 4.26, 0.005)
	for _, c := range []struct{ w, v, phi, speed, yaw float64 }{{10, 50, 0, 60, 0}, {10, 50, 180, 40, 0}, {10, 0, 90, 10, 90}, {0, 50, 70, 50, 0}, {30, 40, -90, 50, -36.8699}} {
		speed, yaw := ApparentWind(c.w, c.v, c.phi*math.Pi/180)
		near(t, "speed", speed, c.speed, 1e-9)
		near(t, "yaw", yaw*180/math.Pi, c.yaw, 1e-4)
	}
}

// 40 CFR 1037.528(g)(1): an outlier is more than three standard deviations, 4.4478 median absolute deviations, off the median.
func TestOutlierFactors(t *testing.T) {
	x := []float64{9, 10, 11, 10, 9, 11, 10, 12, 8}
	near(t, "median", stats.Median(x), 10, 0)
	near(t, "three standard deviations", 3*stats.Spread(x), 4.4478, 1e-12) // The median absolute deviation is 1.
}

// 40 CFR 1066.310: of a heavy vehicle A is measured, B is 0 and C adjusted; 1066.805(c) has 20 °C and 98.21 kPa for ambient air, whose
// density is the reference 1.17 kg/m³ of the coefficients.
func TestRoadLoadOfHeavyVehicles(t *testing.T) {
	near(t, "density", AirDensity(98.21, 0, Celsius(20)), 1.17, 0.005)
	near(t, "force without B", SpeedForce([]float64{1200, 0, 0.25}, 80), 1200+0.25*80*80, 1e-9)
}

// 40 CFR 86.529-98's rows through the closed form, unrounded: force at 65 km/h and seconds from 70 to 60 km/h.
func TestCoastdownTableUnrounded(t *testing.T) {
	for _, r := range []struct{ mass, a, c, force, seconds float64 }{
		{100, 0, .0224, 94.6, 2.953}, {150, 4.32, .0238, 104.9, 3.994}, {200, 8.69, .0252, 115.2, 4.848}, {250, 13.06, .0266, 125.4, 5.561}, {300, 17.43, .0279, 135.3, 6.185}, {340, 20.92, .0290, 143.4, 6.611},
	} {
		near(t, "force", SpeedForce([]float64{r.a, 0, r.c}, 65), r.force, 0.05)
		near(t, "seconds", CoastdownTime(r.mass, r.a, r.c, 70, 60), r.seconds, 5e-4)
	}
}

// The same roller by its angular figures: 13.8889 rad/s² and 111.111 rad/s, 277.78 N·m (from the definitions).
func TestInertiaRollerStepByStep(t *testing.T) {
	const j, r = 20.0, 0.30
	alpha, omega := (180-60)/3.6/8/r, 120/3.6/r
	near(t, "rad/s²", alpha, 13.8889, 5e-5)
	near(t, "rad/s", omega, 111.111, 5e-4)
	near(t, "N·m", j*alpha, 277.78, 0.005)
	near(t, "equivalent mass", j/(r*r), 222.22, 0.005)
	near(t, "kW", PowerOfForce(InertiaForce(j/(r*r), alpha*r), KMH(120)), j*alpha*omega/1000, 1e-12)
}

// 205/55 R16: 631.9 mm, a circumference of 1.98517 m, unloaded; 3.000 at 3000 1/min and 119.110 km/h (definition).
func TestTyreDiameter(t *testing.T) {
	d := TyreDiameter(205, 55, 16)
	near(t, "diameter", d, 0.6319, 1e-9)
	near(t, "circumference", math.Pi*d, 1.98517, 5e-6)
	near(t, "overall ratio", EngineRatio(3000, d/2, KMH(119.110)), 3.000, 5e-5)
}
