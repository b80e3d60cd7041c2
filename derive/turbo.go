package derive

import "math"

// Properties of the gases that the turbocharger's formulas take as constant.
const (
	AirGamma = 1.4                                           // cp/cv of air at 300 K (NBS Circular 564). Up to 500 K the constant costs less than 1.2 % of an efficiency.
	AirCp    = AirConstant * AirGamma / (AirGamma - 1) / 1e3 // 1.0047 kJ/(kg·K).
)

// MinRise is the least temperature rise in K that a compressor's efficiency is divided by (common practice, no source): below it the
// probes' errors and the housing's heat say more than the work does.
const MinRise = 5

// IsentropicRise is T1 (Π^((γ-1)/γ) - 1), K: what a compression by the ratio Π would warm a gas by without loss (a textbook's
// definition). It is negative for an expansion, whose ratio is below 1.
func IsentropicRise(t Kelvin, ratio, gamma float64) float64 {
	return float64(t) * (math.Pow(ratio, (gamma-1)/gamma) - 1)
}

// CompressorEfficiency is isentropic: T1 (Π^((γ-1)/γ) - 1) / (T2 - T1) with Π = p2/p1, γ = AirGamma and T in K (a textbook's
// definition). It is total-to-total or static as the probes are: at 100 m/s the two temperatures differ by 5 K. NaN where the rise
// is below MinRise or a pressure is not above zero.
func CompressorEfficiency(p1, p2 AbsKPa, t1, t2 Kelvin) float64 {
	if !(t2-t1 >= MinRise) {
		return math.NaN()
	}
	return IsentropicRise(t1, p2.Over(p1), AirGamma) / float64(t2-t1)
}

// CompressorOutlet is the inverse of CompressorEfficiency: T1 + T1 (Π^((γ-1)/γ) - 1) / η, K.
func CompressorOutlet(t1 Kelvin, ratio, efficiency float64) Kelvin {
	return t1 + Kelvin(IsentropicRise(t1, ratio, AirGamma)/efficiency)
}

// TurbineEfficiency is total-to-static: (T3 - T4) / (T3 (1 - ER^(-(γ-1)/γ))), with ER = p3/p4 (a textbook's definition). NaN without an
// expansion.
func TurbineEfficiency(p3, p4 AbsKPa, t3, t4 Kelvin, gamma float64) float64 {
	if !(p3 > p4) {
		return math.NaN()
	}
	return float64(t3-t4) / -IsentropicRise(t3, p4.Over(p3), gamma)
}

// GasPower is m cp (T2 - T1), kW: what a stream's warming takes, or its cooling gives (then below zero). cp in kJ/(kg·K).
func GasPower(m KgPerS, cp float64, t1, t2 Kelvin) float64 { return float64(m) * cp * float64(t2-t1) }

// State is a gas's pressure and temperature: what a map's figures are referred to.
type State struct {
	P AbsKPa
	T Kelvin
}

// MapReference is the state that corrected_air_kg_s is referred to. Maps differ in theirs.
func MapReference() State { return State{100, 298} }

// CorrectedFlow is m √(T1/T_ref) / (p1/p_ref), kg/s: the flow at the reference inlet that has the same Mach number (similarity; practice
// of compressor maps). NaN unless pressure and temperature are above zero.
func CorrectedFlow(m KgPerS, inlet, reference State) KgPerS {
	if !(m >= 0) {
		return KgPerS(math.NaN())
	}
	return m * KgPerS(math.Sqrt(float64(inlet.T/reference.T))/inlet.P.Over(reference.P))
}

// CorrectedSpeed is n / √(T1/T_ref), 1/min: the shaft speed at the reference inlet that has the same Mach number.
func CorrectedSpeed(rpm float64, inlet, reference State) float64 {
	return rpm / math.Sqrt(float64(inlet.T/reference.T))
}

// TurbineFlow is the turbine flow parameter m √T3 / p3, kg/s·√K/kPa, m being air and fuel (a textbook's definition; not referred to any
// state). NaN unless pressure and temperature are above zero.
func TurbineFlow(m KgPerS, inlet State) float64 {
	if !(m >= 0 && inlet.P > 0 && inlet.T > 0) {
		return math.NaN()
	}
	return float64(m) * math.Sqrt(float64(inlet.T)) / float64(inlet.P)
}
