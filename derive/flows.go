package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// What air and fuel are judged by (common practice, no source).
const (
	freshEGR     = 2.0  // %. Beyond it the cylinders draw exhaust gas too.
	lambdaApart  = 0.10 // Of the ratio: what reckoned and logged lambda may be apart by without a doubt.
	lambdaLowest = 0.7  // What a sensor reads well is between these.
	lambdaMost   = 4.0
)

// flows adds air, air over fuel, lambda as reckoned and the volumetric efficiency.
func (w *work) flows() {
	w.air()
	air, have := w.of("air_kg_h")
	if have == "" {
		return
	}
	w.breathing()
	if w.fuel == nil {
		return
	}
	w.exhaustFlow = func(i int) KgPerS { return KGH(air.at(i)) + w.fuel(i) }
	w.fill("afr_ratio", func(i int) float64 { return AirFuelRatio(KGH(air.at(i)), w.fuel(i)) })
	ratio, _ := w.of("afr_ratio")
	w.fill("lambda_calc_ratio", func(i int) float64 { return Lambda(ratio.at(i), w.Vehicle.FuelStoichRatio) })
	w.lambdaAgrees()
}

// air is the measured flow, else speed-density with the vehicle's volumetric efficiency where no exhaust gas is recirculated.
func (w *work) air() {
	if measured, name := w.of("maf_g_s"); name != "" {
		w.fill("air_kg_h", func(i int) float64 {
			if g := measured.at(i); g >= 0 {
				return KgPerS(g / 1000).KGH()
			}
			return math.NaN()
		})
		return
	}
	v := w.Vehicle
	if !(v.VolumetricEfficiency > 0) || w.idealAir == nil {
		return
	}
	w.fill("air_kg_h", func(i int) float64 {
		if !w.fresh(i) {
			return math.NaN()
		}
		return SpeedDensity(v.VolumetricEfficiency, w.idealAir(i)).KGH()
	})
	switch made := w.Has("air_kg_h"); {
	case !made && w.egr != nil:
		w.recirculated("air_kg_h")
	case made:
		text := fmt.Sprintf("air was not measured: it is reckoned by speed and density with the vehicle's volumetric efficiency of %.3g", v.VolumetricEfficiency)
		if w.egr != nil {
			text += fmt.Sprintf(", and left out where egr_pct is above %g", freshEGR)
		} else {
			text += "; recirculated exhaust gas was not logged and would make it read high"
		}
		w.find(schema.Doubt, "air_speed_density", "air_kg_h", text, v.VolumetricEfficiency, "1")
	}
}

// breathing adds the volumetric efficiency from measured air.
func (w *work) breathing() {
	if !w.Has("maf_g_s") || w.idealAir == nil {
		return
	}
	air, _ := w.of("air_kg_h")
	w.checked("ve_frac", "ve_implausible", "measured air does not go with manifold state, speed and displacement, as while the engine is idling with a throttle or a sensor lags", func(i int) float64 {
		if !w.fresh(i) {
			return math.NaN()
		}
		return VolumetricEfficiency(KGH(air.at(i)), w.idealAir(i))
	})
	switch made := w.Has("ve_frac"); {
	case !made && w.egr != nil:
		w.recirculated("ve_frac")
	case made && w.egr == nil:
		w.find(schema.Note, "ve_egr_unknown", "ve_frac", "egr_pct was not logged: where exhaust gas is recirculated the volumetric efficiency reads low", math.NaN(), "1")
	}
}

// fresh reports whether row i draws fresh air alone, as far as the log tells.
func (w *work) fresh(i int) bool {
	if w.egr == nil {
		return true
	}
	return w.egr[i] <= freshEGR
}

// recirculated says why a column that needs fresh air alone has no value, if that is why.
func (w *work) recirculated(name string) {
	least := math.Inf(1)
	for i, v := range w.egr {
		if w.idealAir(i) > 0 && v < least {
			least = v
		}
	}
	if least > freshEGR && !math.IsInf(least, 1) {
		w.find(schema.Note, "egr_open", name, fmt.Sprintf("%s is left out: while the engine turns egr_pct is never below %.3g, and above %g exhaust gas is recirculated; if the valve is shut there, add a mapping with its offset", name, least, freshEGR), least, "%")
	}
}

// inputs settles, once for a run, what air and fuel stand on.
func (w *work) inputs() {
	v := w.Vehicle
	rpm, turning := w.of("engine_speed_rpm")
	if w.Has("egr_pct") {
		w.egr = w.Column("egr_pct")
	}
	manifold, m := w.of("map_kpa")
	charge, c := w.of("charge_c")
	if turning != "" && m != "" && c != "" && v.DisplacementL > 0 {
		w.idealAir = func(i int) KgPerS {
			return IdealAir(AbsKPa(manifold.at(i)), Celsius(charge.at(i)), v.DisplacementL, rpm.at(i), v.Strokes)
		}
	}
	flow, logged := w.of("fuel_kg_h")
	mass, injected := w.of("inj_mg")
	switch {
	case logged != "":
		w.fuel = func(i int) KgPerS { return KGH(flow.at(i)) }
	case injected == "" || turning == "":
	case v.Cylinders > 0:
		w.fuel = func(i int) KgPerS { return InjectedFuel(mass.at(i), v.Cylinders, rpm.at(i), v.Strokes) }
	default:
		w.find(schema.Note, "cylinders_missing", "inj_mg", "fuel was logged as an injected mass alone, and the vehicle's number of cylinders is not stated: what needs a fuel flow is left out; add cylinders to vehicles.yaml", math.NaN(), "")
	}
}

// lambdaAgrees doubts air, fuel or sensor where lambda as reckoned and as logged are apart in the middle of all rows.
func (w *work) lambdaAgrees() {
	sensor, logged := w.of("lambda_ratio")
	calc, made := w.of("lambda_calc_ratio")
	if logged == "" || made == "" {
		return
	}
	apart := make([]float64, 0, w.Len())
	for i := range w.Len() {
		s, c := sensor.at(i), calc.at(i)
		if s >= lambdaLowest && s <= lambdaMost && !math.IsNaN(c) {
			apart = append(apart, c/s)
		}
	}
	if len(apart) < enoughRows {
		return
	}
	if middle := stats.Median(apart); math.Abs(middle-1) > lambdaApart {
		w.find(schema.Doubt, "lambda_disagrees", "lambda_calc_ratio", fmt.Sprintf("lambda from air and fuel is %+.1f %% off lambda_ratio as logged (the median of %d rows): check the air meter, the fuel's figures and the sensor", 100*(middle-1), len(apart)), middle, "1")
	}
}
