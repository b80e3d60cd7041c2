package derive

import "math"

// TyreMass is what a turning tyre and its wheel add to a truck's mass when it slows or gains speed, kg (40 CFR 1037.528(h)(1)).
const TyreMass = 56.7

// EffectiveMass is a truck's mass with that of its turning parts, kg: m + 56.7 n, with n tyres on the road (40 CFR 1037.528(h)(1)).
func EffectiveMass(mass float64, tyres int) float64 { return mass + TyreMass*float64(tyres) }

// RoadForce is the road load that a coastdown shows on a road with a grade, N: -M_e a - M g h', with the effective and the plain mass in
// kg, the acceleration in m/s², local gravity in m/s² and the grade as height over distance (40 CFR 1037.528(h)(4)).
func RoadForce(effective, mass, acceleration, gravity, grade float64) float64 {
	return -InertiaForce(effective, acceleration) - mass*gravity*grade
}

// AxleSpinForce is what churning oil and seals of a driven axle take, as a force at the road: (c0 + c1 f + c2 f²) / v in N, with the
// power's coefficients in W, W·s and W·s², the wheel's f = turns·v in 1/s, turns in 1/m and the speed v in m/s (40 CFR 1037.528(h)(5)).
// NaN at standstill.
func AxleSpinForce(c [3]float64, turns float64, v MPerS) float64 {
	if !(v > 0) {
		return math.NaN()
	}
	f := turns * float64(v)
	return (c[0] + f*(c[1]+f*c[2])) / float64(v)
}

// RollingRadius is 1 / (2 pi n) in m, n being the tyre's turns on a metre of road (definition).
func RollingRadius(turns float64) float64 { return 1 / (2 * math.Pi * turns) }

// ApparentWind is the wind that a moving vehicle feels: its speed √(w² + v² + 2 w v cos φ), in the unit of w and v, and its yaw
// atan2(w sin φ, v + w cos φ) in rad, the wind w coming from φ rad off straight ahead (40 CFR 1037.528(g)).
func ApparentWind(w, v, phi float64) (speed, yaw float64) {
	across, along := w*math.Sin(phi), v+w*math.Cos(phi)
	return math.Hypot(across, along), math.Atan2(across, along)
}

// TyreDiameter is an unloaded tyre's, in m: 25.4 rim + 2 (aspect/100) width, from a size such as 205/55 R16, with the width in mm, the
// aspect in % and the rim in inches (the size's definition). Under load it rolls on a radius 2 to 4 % less (common practice, no source).
func TyreDiameter(width, aspect, rim float64) float64 { return (25.4*rim + 2*aspect/100*width) / 1000 }
