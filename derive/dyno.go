package derive

import (
	"math"

	"dynolake/derive/stats"
)

// TorqueSpeed is 60000/(2 pi): power in kW is torque in N·m times speed in 1/min over it (from the definition of power).
const TorqueSpeed = 9549.296585513721

// MinEngineSpeed is the engine speed in 1/min above which a torque is made of a power: below it an engine does not run.
const MinEngineSpeed = 300

// PowerOfForce is F v / 1000: a force in N at a surface speed, kW.
func PowerOfForce(newtons float64, v MPerS) float64 { return newtons * float64(v) / 1000 }

// PowerOfTorque is 2 pi n T / 60000: a torque in N·m on a shaft that turns at n in 1/min, kW.
func PowerOfTorque(newtonMetres, rpm float64) float64 { return newtonMetres * rpm / TorqueSpeed }

// TorqueOfPower is the inverse of PowerOfTorque, N·m; NaN at or below MinEngineSpeed.
func TorqueOfPower(kilowatts, rpm float64) float64 {
	if !(rpm > MinEngineSpeed) {
		return math.NaN()
	}
	return kilowatts * TorqueSpeed / rpm
}

// InertiaForce is m a, N: the force that accelerates an equivalent mass in kg at a in m/s² (40 CFR 1066.250, where the mass
// is found from force, time and speeds). For a roller of inertia J in kg·m² and radius r in m the mass is J/r².
func InertiaForce(massKg, acceleration float64) float64 { return massKg * acceleration }

// SpeedForce is A + B v + C v², N, with v in km/h and the coefficients in rising powers (40 CFR 1066.301 for road load).
// Missing coefficients are 0; the force of a speed below 0 is that of standstill.
func SpeedForce(coefficients []float64, kmh float64) float64 {
	if kmh < 0 {
		kmh = 0
	}
	sum := 0.0
	for k := len(coefficients) - 1; k >= 0; k-- {
		sum = sum*kmh + coefficients[k]
	}
	return sum
}

// CoastdownTime is how long a mass in kg takes to slow from v1 to v2, in km/h, against A + C v², in N and N/(km/h)²: the closed form
// m/(3.6 √(A C)) (atan(v1 √(C/A)) - atan(v2 √(C/A))), and m/(3.6 C) (1/v2 - 1/v1) where A is 0, s (integral of m dv/dt = -F, as 40 CFR
// 86.529-98 tabulates it). NaN where a force is below zero, there is none, or the speeds do not fall.
func CoastdownTime(mass, a, c, v1, v2 float64) float64 {
	switch {
	case !(mass > 0 && a >= 0 && c >= 0 && a+c > 0 && v1 >= v2 && v2 >= 0):
		return math.NaN()
	case a == 0:
		return mass / (3.6 * c) * (1/v2 - 1/v1)
	case c == 0:
		return mass * (v1 - v2) / (3.6 * a)
	}
	k := math.Sqrt(c / a)
	return mass / (3.6 * math.Sqrt(a*c)) * (math.Atan(v1*k) - math.Atan(v2*k))
}

// windows for the acceleration, s.
const (
	leastHalf   = 0.25 // Half a window, so that a sensor's noise is not differentiated.
	mostHalf    = 1.0  // What coarse steps of speed may widen it to.
	samplesHalf = 2.2  // Steps on either side: five samples at the least.
	knotsHalf   = 2.5  // Steps of the speed's own clock, where it was interpolated onto a faster one.
)

// Acceleration is dv/dt in m/s² in every row, from speeds in km/h: the slope of a parabola fitted by least squares to the
// samples within a window, which on an even clock is the quadratic filter of Savitzky and Golay (Anal. Chem. 36, 1964).
// The window is ± 0.25 s, or five samples, or wider (to ± 1 s) where the speed moves in coarse steps; at a corner, such as the
// end of a pull, it lies on one side. NaN where the speed is.
func Acceleration(t, kmh []float64) []float64 { return accelerate(t, kmh, window(t, kmh)) }

// acceleration is that of a speed column. Where the speed is moved to see what comes of it, the window stays that of the speed as logged.
func (w *work) acceleration(name string, speed input) []float64 {
	logged := speed.column
	if w.unmoved != nil && w.unmoved.Column(name) != nil {
		logged = w.unmoved.Column(name)
	}
	return accelerate(w.T, speed.column, window(w.T, logged))
}

func accelerate(t, kmh []float64, half float64) []float64 {
	out := make([]float64, len(t))
	for i := range out {
		if math.IsNaN(kmh[i]) {
			out[i] = math.NaN()
			continue
		}
		out[i] = stats.SlopeAt(t, kmh, t[i], half) / 3.6
	}
	return out
}

// window chooses half a window for the acceleration.
func window(t, kmh []float64) float64 {
	half := max(leastHalf, min(mostHalf, knotsHalf*ownPeriod(t, kmh)))
	for _, step := range []float64{0.5, 1, 0.5 * 1.609344, 1.609344} { // 1 km/h and 1 mph are usual on a vehicle's bus.
		if stepped(kmh, step) {
			half = max(half, mostHalf)
		}
	}
	return max(half, samplesHalf*period(t))
}

// ownPeriod estimates how often a column that may have been interpolated was really logged: the run's length over the rows
// in which it bends.
func ownPeriod(t, x []float64) float64 {
	bends := 0
	for i := 1; i+1 < len(t); i++ {
		before, after := (x[i]-x[i-1])/(t[i]-t[i-1]), (x[i+1]-x[i])/(t[i+1]-t[i])
		if math.Abs(after-before) > 1e-6*(1+math.Abs(after)+math.Abs(before)) {
			bends++
		}
	}
	if bends == 0 {
		return 0
	}
	return (t[len(t)-1] - t[0]) / float64(bends)
}

// stepped reports whether nearly all values are whole multiples of a step.
func stepped(x []float64, step float64) bool {
	whole, n := 0, 0
	for _, v := range x {
		if math.IsNaN(v) {
			continue
		}
		n++
		if q := v / step; math.Abs(q-math.Round(q)) < 1e-4 {
			whole++
		}
	}
	return n > 0 && float64(whole) >= 0.9*float64(n)
}
