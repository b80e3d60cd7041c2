package derive

import "math"

// MinCooling is the least difference in K between the compressor's outlet and the cooling air that an effectiveness is divided by
// (common practice, no source).
const MinCooling = 10

// CoolerEffectiveness is (T_in - T_out) / (T_in - T_cooling) on the charge's side (a textbook's definition): 1 where the charge leaves at the
// cooling air's temperature. NaN where the charge is less than MinCooling warmer than that air.
func CoolerEffectiveness(in, out, cooling Kelvin) float64 {
	if !(in-cooling >= MinCooling) {
		return math.NaN()
	}
	return float64((in - out) / (in - cooling))
}
