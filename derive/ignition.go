package derive

import "math"

// SparkFactor multiplies the power of a spark-ignition engine to the reference atmosphere: (99/p)^1.2 (T/298)^0.6, with p the dry inlet
// pressure in kPa and T the inlet air in K (ISO 1585 and UN R85, positive ignition, from published restatements). It returns
// ErrOutsideValidity outside 0.93 to 1.07, 288 to 308 K and 80 to 110 kPa, and NaN for NaN.
func SparkFactor(dry AbsKPa, t Kelvin) (float64, error) {
	return sparkWithin(AirFactor(float64(dry), float64(t), 1.2, 0.6), dry, t)
}

// SparkFactorJ1349 is SAE J1349's of June 1990 for spark ignition: 1.18 (99/p) √(T/298) - 0.18, which takes 85 % of the indicated power as
// brake power at the reference (secondary sources; the bounds of the factor, 0.93 to 1.07, from memory, those of pressure and temperature as
// in SparkFactor).
func SparkFactorJ1349(dry AbsKPa, t Kelvin) (float64, error) {
	return sparkWithin(1.18*99/float64(dry)*math.Sqrt(float64(t)/298)-0.18, dry, t)
}

// sparkWithin refuses what a spark-ignition formula does not cover.
func sparkWithin(factor float64, dry AbsKPa, t Kelvin) (float64, error) {
	switch {
	case math.IsNaN(factor):
		return math.NaN(), nil
	case !(t >= 288 && t <= 308 && dry >= 80 && dry <= 110 && factor >= 0.93 && factor <= 1.07):
		return math.NaN(), ErrOutsideValidity
	}
	return factor, nil
}
