package derive

import "math"

// AirConstant is R of dry air, J/(kg·K): 8314.4626 J/(kmol·K) over 28.9647 kg/kmol (from memory). Moisture, which raises it by up
// to 1 %, is left out where a formula takes it.
const AirConstant = 287.055

// DieselStoich is the air that burns diesel completely, kg/kg, where the vehicle states no other (Heywood, Internal Combustion
// Engine Fundamentals, app. D; from memory).
const DieselStoich = 14.5

// IdealAir is what an engine would draw in if every cylinder filled with gas of the manifold's state: p V n / (30 k R T), kg/s,
// with p in kPa, the displacement V in L, the speed n in 1/min, k strokes a cycle (4 where k is neither) and T in K. NaN below
// standstill and without a displacement (Heywood ch. 2, from memory; 40 CFR 1065.602(l) has it in moles).
func IdealAir(p AbsKPa, t Kelvin, litres, rpm float64, strokes int) KgPerS {
	if !(p > 0 && t > 0 && litres > 0 && rpm >= 0) {
		return KgPerS(math.NaN())
	}
	return KgPerS(float64(p) * litres * rpm / (30 * cycleStrokes(strokes) * AirConstant * float64(t)))
}

// SpeedDensity is air by the engine's volumetric efficiency: η_v times IdealAir, kg/s (Heywood ch. 2, from memory). It holds where the
// manifold has fresh air alone: with exhaust gas recirculated it reads high by the share of that.
func SpeedDensity(efficiency float64, ideal KgPerS) KgPerS { return KgPerS(efficiency) * ideal }

// VolumetricEfficiency is measured air over IdealAir, both at the manifold's state: the inverse of SpeedDensity. NaN where no air
// is measured or the engine stands.
func VolumetricEfficiency(air, ideal KgPerS) float64 {
	if !(air > 0 && ideal > 0) {
		return math.NaN()
	}
	return float64(air / ideal)
}

// InjectedFuel is the fuel flow of an injected mass a stroke: m Z n / (30 k), kg/s, with m in mg, Z cylinders, n in 1/min and k
// strokes a cycle: each cylinder is injected once a cycle (definition).
func InjectedFuel(mg float64, cylinders int, rpm float64, strokes int) KgPerS {
	if cylinders <= 0 || !(mg >= 0 && rpm >= 0) {
		return KgPerS(math.NaN())
	}
	return KgPerS(mg * 1e-6 * float64(cylinders) * rpm / (30 * cycleStrokes(strokes)))
}

// AirFuelRatio is air over fuel by mass (definition); NaN where there is no fuel, as on the overrun, or no air.
func AirFuelRatio(air, fuel KgPerS) float64 {
	if !(air > 0 && fuel > 0) {
		return math.NaN()
	}
	return float64(air / fuel)
}

// Lambda is an air-fuel ratio over the fuel's stoichiometric one (definition); DieselStoich where that is 0 or less.
func Lambda(ratio, stoich float64) float64 {
	if !(stoich > 0) {
		stoich = DieselStoich
	}
	return ratio / stoich
}

// StoichRatio is the stoichiometric air-fuel ratio of a fuel CH_y: 34.56 (4 + y) / (12.011 + 1.008 y) (Heywood eq. 3.6, from memory).
func StoichRatio(y float64) float64 { return 34.56 * (4 + y) / (12.011 + 1.008*y) }

func cycleStrokes(k int) float64 {
	if k == 2 {
		return 2
	}
	return 4
}
