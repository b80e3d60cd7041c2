package derive

import "math"

// Constants of Sutherland's law for air, as the US Standard Atmosphere 1976 gives them.
const (
	sutherlandFactor = 1.458e-6 // kg/(m·s·K^½).
	sutherlandTemp   = 110.4    // K.
)

// ViscosityReference is the temperature that dpf_resist_ref is referred to: 25 °C.
const ViscosityReference Kelvin = 298.15

// Viscosity is air's dynamic viscosity by Sutherland's law, β T^1.5 / (T + S) in Pa·s, with β = 1.458e-6 kg/(m·s·K^½), S = 110.4 K and T in K
// (US Standard Atmosphere 1976, eq. 51). Pressure does not change it. Taken from 100 K to 1900 K, NaN outside; from 900 K up it reads 2 % low and more. Lean exhaust differs
// from air by a few per cent, alike at all temperatures, so that ratios hold better than the figure itself.
func Viscosity(t Kelvin) float64 {
	if !(t >= 100 && t <= 1900) {
		return math.NaN()
	}
	return sutherlandFactor * math.Pow(float64(t), 1.5) / (float64(t) + sutherlandTemp)
}

// ReferredResistance is a filter's resistance as it would be at the viscosity of ViscosityReference: R μ(T_ref) / μ(T), kPa per m³/s, from
// FilterResistance and the gas's temperature (Darcy's law: the loss is viscosity times flow times what the filter alone makes of it). What
// the flow loses by its inertia at high speed is left in, so it still rises a little with the flow. NaN where either input is.
func ReferredResistance(resistance float64, t Kelvin) float64 {
	return resistance * Viscosity(ViscosityReference) / Viscosity(t)
}

// MinSystem is the least back pressure that a share of it is taken of (common practice, no source): below it the sensors' zeros are most of it.
const MinSystem DiffKPa = 2

// FilterShare is a filter's loss over the gauge pressure before it, the rest being what follows the filter (definition); NaN where that is below MinSystem.
func FilterShare(loss, system DiffKPa) float64 {
	if !(system >= MinSystem) {
		return math.NaN()
	}
	return float64(loss / system)
}
