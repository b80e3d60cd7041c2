package derive

import "math"

// airOxygen is the mole fraction of oxygen in dry air (US Standard Atmosphere 1976: 0.209476).
const airOxygen = 0.2095

// CarbonFraction is the mass of carbon in a mass of fuel CH_y, 12.011 / (12.011 + 1.008 y), from the atoms' masses.
func CarbonFraction(y float64) float64 { return 12.011 / (12.011 + 1.008*y) }

// LambdaOfOxygen is air over stoichiometric air from x, the mole fraction of oxygen in dry exhaust: 1 + k x / (0.2095 - x), with k the moles of
// dry exhaust to those of dry air at lambda 1, (1 + 3.773 s) / (4.773 s) with s = 1 + y/4, 0.935 for CH1.8. It follows from the balance of
// a fuel CH_y that burns completely in dry air, lean and without recirculated exhaust: a check of plausibility, no more. NaN
// unless 0 <= x < 0.2095 and y > 0.
func LambdaOfOxygen(x, y float64) float64 {
	if !(x >= 0 && x < airOxygen && y > 0) {
		return math.NaN()
	}
	need := 1 + y/4 // Moles of oxygen for a mole of carbon.
	dry := (1 + need*(1-airOxygen)/airOxygen) / (need / airOxygen)
	return 1 + dry*x/(airOxygen-x)
}
