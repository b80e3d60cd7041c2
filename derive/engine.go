package derive

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// FuelPower is the brake power in kW that a specific consumption is divided by at the least (common practice, no source): near
// none it says nothing.
const FuelPower = 1

// BSFC is brake specific fuel consumption, m / P in g/kWh: fuel in kg/s, brake power in kW (definition). NaN below FuelPower and without fuel.
func BSFC(fuel KgPerS, kilowatts float64) float64 {
	if !(kilowatts >= FuelPower && fuel > 0) {
		return math.NaN()
	}
	return fuel.KGH() * 1000 / kilowatts
}

// ThermalEfficiency is brake power over the fuel's heat: 3600 / (b H), with b in g/kWh and the lower heating value H in MJ/kg
// (Heywood eq. 2.24, from memory).
func ThermalEfficiency(bsfc, heating float64) float64 {
	if !(bsfc > 0 && heating > 0) {
		return math.NaN()
	}
	return 3600 / (bsfc * heating)
}

// BMEP is brake mean effective pressure, π k T / V in kPa with k strokes a cycle: 4 π T / V for a four-stroke, torque T in N·m
// and displacement V in L (Heywood eq. 2.20, from memory). Negative where the engine is driven; NaN without a displacement.
func BMEP(torque, litres float64, strokes int) DiffKPa {
	if !(litres > 0) {
		return DiffKPa(math.NaN())
	}
	return DiffKPa(math.Pi * cycleStrokes(strokes) * torque / litres)
}

// PistonSpeed is the mean speed of the piston, 2 L n / 60 in m/s: stroke L in mm, n in 1/min (definition).
func PistonSpeed(strokeMM, rpm float64) float64 { return 2 * strokeMM / 1000 * rpm / 60 }

// consumption adds the mean piston speed, specific consumption, the efficiency that follows from it and mean effective pressure, on the crankshaft's torque where that was logged, else on wheel
// power over the vehicle's driveline efficiency; that does not hold while a converter slips or the wheels drive the engine.
func (w *work) consumption() {
	rpm, _ := w.of("engine_speed_rpm")
	if stroke := w.Vehicle.StrokeMM; stroke > 0 {
		w.fill("piston_speed_m_s", func(i int) float64 { return PistonSpeed(stroke, rpm.at(i)) })
	}
	torque, logged := w.of("engine_torque_nm")
	power, driven := w.of("wheel_power_kw")
	var kw, nm func(i int) float64
	switch share := w.Vehicle.DrivelineEfficiency; {
	case logged != "":
		nm = torque.at
		kw = func(i int) float64 { return PowerOfTorque(torque.at(i), rpm.at(i)) }
	case driven != "" && share > 0:
		locked, converter := w.of("converter_locked_frac")
		kw = func(i int) float64 {
			if converter != "" && !(locked.at(i) >= 0.5) || !(power.at(i) > 0) {
				return math.NaN()
			}
			return power.at(i) / share
		}
		nm = func(i int) float64 { return TorqueOfPower(kw(i), rpm.at(i)) }
	default:
		return
	}
	if w.fuel != nil {
		w.checked("bsfc_g_kwh", "bsfc_implausible", "fuel and power do not go together, as while either lags behind the other", func(i int) float64 { return BSFC(w.fuel(i), kw(i)) })
	}
	w.checked("bmep_kpa", "bmep_implausible", "torque does not go with the displacement", func(i int) float64 { return float64(BMEP(nm(i), w.Vehicle.DisplacementL, w.Vehicle.Strokes)) })
	if specific, have := w.of("bsfc_g_kwh"); have != "" {
		w.fill("brake_eff_frac", func(i int) float64 { return ThermalEfficiency(specific.at(i), w.Vehicle.FuelHeatingMJKg) })
	}
	if made := w.Has("bsfc_g_kwh") || w.Has("bmep_kpa"); made && logged == "" {
		share := w.Vehicle.DrivelineEfficiency
		w.find(schema.Note, "engine_power_from_wheel", "bsfc_g_kwh", fmt.Sprintf("the engine's torque was not logged: specific consumption and mean pressure stand on wheel power over the vehicle's stated driveline efficiency of %.3g, a convention and no measurement", share), share, "1")
	}
}
