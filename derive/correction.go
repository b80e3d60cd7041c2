package derive

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// correction adds power and torque referred to the reference atmosphere of the run's standard, and the factor. Outside the
// standard's validity, and where an input is missing, they are missing; the uncorrected columns stay as they are.
func (w *work) correction() {
	power, have := w.of("wheel_power_kw")
	if w.Run.Standard == "" || w.Run.Standard == NoStandard || have == "" {
		return
	}
	standard, ok := ParseStandard(w.Run.Standard)
	if !ok {
		w.find(schema.Doubt, "correction_unknown", "power_corr_kw", fmt.Sprintf("found the standard %q: want one that channels --standards lists; nothing is corrected", w.Run.Standard), math.NaN(), "")
		return
	}
	if w.Vehicle.Ignition == "spark" && standard.Name == "iso1585-1982" {
		w.find(schema.Doubt, "correction_unknown", "power_corr_kw", "iso1585-1982 is held for compression ignition alone, and the vehicle's ignition is spark: nothing is corrected; iso1585-1992, unr85 and saej1349-2004 have both", math.NaN(), "")
		return
	}
	a, missing := w.atmosphere(standard.Name)
	if len(missing) > 0 {
		w.find(schema.Doubt, "correction_input_missing", "power_corr_kw", fmt.Sprintf("%s needs %s, which was not logged or stated: nothing is corrected", standard.Name, strings.Join(missing, ", ")), math.NaN(), "")
		return
	}
	outside, t0, t1 := 0, math.NaN(), math.NaN()
	w.fill("corr_ratio", func(i int) float64 {
		factor, err := CorrectionFactor(standard.Name, a(i))
		if errors.Is(err, ErrOutsideValidity) && !math.IsNaN(power.at(i)) {
			if outside++; math.IsNaN(t0) {
				t0 = w.T[i]
			}
			t1 = w.T[i]
		}
		return factor
	})
	factor, _ := w.of("corr_ratio")
	torque, _ := w.of("torque_nm")
	w.fill("power_corr_kw", func(i int) float64 { return power.at(i) * factor.at(i) })
	w.fill("torque_corr_nm", func(i int) float64 { return torque.at(i) * factor.at(i) })
	if w.Has("corr_ratio") && standard.Withdrawn && w.Vehicle.Ignition != "spark" {
		w.find(schema.Note, "correction_withdrawn", "power_corr_kw", standard.Name+" "+standard.Caution, math.NaN(), "")
	}
	if outside > 0 {
		w.find(schema.Doubt, "correction_outside_validity", "power_corr_kw", fmt.Sprintf("%s does not apply in %d of %d rows (%s): they are left uncorrected", standard.Name, outside, w.Len(), standard.Validity), float64(outside), "1")
		last := &w.findings[len(w.findings)-1]
		last.T0S, last.T1S = t0, t1
	}
}

// stated takes a column, else the run's one value.
func (w *work) stated(name string, fixed float64) input {
	if in, found := w.of(name); found != "" {
		return in
	}
	return input{fixed: fixed}
}

// atmosphere gives what a standard stands on, row by row, or the names of what is missing.
func (w *work) atmosphere(standard string) (at func(i int) Atmosphere, missing []string) {
	need := func(in input, what string) {
		if !in.known() {
			missing = append(missing, what)
		}
	}
	air := w.stated("ambient_c", w.Run.AmbientC)
	if !air.known() {
		if inlet, name := w.of("inlet_c"); name != "" {
			air = inlet
			w.find(schema.Doubt, "correction_inlet_air", "inlet_c", "no ambient temperature was logged or stated: the compressor inlet's stands for it in the correction, which under-hood heat raises", math.NaN(), "°C")
		}
	}
	humidity := w.stated("humidity_pct", w.Run.HumidityPct)
	need(w.baro, "barometric pressure")
	need(air, "ambient temperature")
	if standard != "din70020" {
		need(humidity, "humidity")
	}
	charge := input{fixed: math.NaN()}
	fuelOf := func(int) float64 { return math.NaN() }
	spark, natural := w.Vehicle.Ignition == "spark", w.Vehicle.Aspiration == "natural"
	if standard != "din70020" && standard != "saej607" && !spark {
		var text string
		if fuelOf, text = w.fuelPerLitreCycle(); text != "" {
			missing = append(missing, text)
		}
		if charge, _ = w.of("compressor_out_kpa", "map_kpa"); natural {
			charge = w.baro
		}
		need(charge, "charge pressure")
	}
	liquid := w.Vehicle.ChargeCooling == "liquid"
	return func(i int) Atmosphere {
		total, c := AbsKPa(w.baro.at(i)), air.at(i)
		return Atmosphere{
			Dry: DryPressure(total, humidity.at(i), c), Total: total, TempC: c, FuelMgLC: fuelOf(i), Charge: AbsKPa(charge.at(i)).Over(total), LiquidCAC: liquid, Spark: spark,
			Unturbo: natural || w.Vehicle.Aspiration == "mechanical",
		}
	}, missing
}

// fuelPerLitreCycle gives q in mg per litre and cycle from the fuel flow, else from the injected mass; the text names what is missing.
func (w *work) fuelPerLitreCycle() (func(i int) float64, string) {
	v := w.Vehicle
	rpm, _ := w.of("engine_speed_rpm")
	flow, hasFlow := w.of("fuel_kg_h")
	mass, hasMass := w.of("inj_mg")
	switch {
	case !(v.DisplacementL > 0):
		return nil, "the vehicle's displacement"
	case hasFlow != "" && rpm.known():
		return func(i int) float64 { return FuelPerLitreCycle(flow.at(i)/3.6, v.DisplacementL, rpm.at(i), v.Strokes) }, ""
	case hasMass != "" && v.Cylinders > 0:
		return func(i int) float64 { return mass.at(i) * float64(v.Cylinders) / v.DisplacementL }, ""
	}
	return nil, "fuel flow (or injected mass and the number of cylinders)"
}
