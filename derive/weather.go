package derive

import "math"

// Constants of moist air.
const (
	vapourConstant = 461.52    // R of water vapour, J/(kg·K).
	earthRadius    = 6_356_766 // m, as the standard atmosphere takes it.
)

// GeopotentialHeight turns a height above the sea into one in uniform gravity: r Z / (r + Z), both in m (US Standard Atmosphere 1976).
func GeopotentialHeight(z float64) float64 { return earthRadius * z / (earthRadius + z) }

// StandardAtmosphere is the pressure and temperature at a geopotential height H in m: T = 288.15 - 0.0065 H, p = 101.325 (T/288.15)^5.255876
// (US Standard Atmosphere 1976). It holds up to 11000 m; NaN beyond and below -5000 m.
func StandardAtmosphere(h float64) State {
	if !(h >= -5000 && h <= 11000) {
		return State{AbsKPa(math.NaN()), Kelvin(math.NaN())}
	}
	t := 288.15 - 0.0065*h
	return State{AbsKPa(101.325 * math.Pow(t/288.15, 5.255876)), Kelvin(t)}
}

// AirDensity is p_d/(R_a T) + p_v/(R_v T), kg/m³: of air by the dry share of its pressure and the vapour's (mixture of ideal gases).
// NaN unless the temperature is above zero.
func AirDensity(dry, vapour AbsKPa, t Kelvin) float64 {
	if !(t > 0) {
		return math.NaN()
	}
	return 1000 / float64(t) * (float64(dry)/AirConstant + float64(vapour)/vapourConstant)
}

// MoistAirMass is the molar mass of air with a mole fraction x of water, g/mol: 28.96559 (1 - x) + 18.01528 x (40 CFR 1065.640).
func MoistAirMass(x float64) float64 { return 28.96559*(1-x) + 18.01528*x }
