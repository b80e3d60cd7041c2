package derive

import (
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// charge adds what compressor and charge cooler do.
func (w *work) charge() {
	w.compressor()
	w.correctedAir()
	w.cooler()
}

// compressor adds the isentropic efficiency, from pressures and temperatures at both ports; a manifold or a barometer does not
// stand for a port, as the cooler's and the filter's losses would be the compressor's.
func (w *work) compressor() {
	p1, in := w.of("inlet_kpa")
	p2, out := w.of("compressor_out_kpa")
	t1, cold := w.of("inlet_c")
	t2, hot := w.of("compressor_out_c")
	if hot == "" {
		return
	}
	var missing []string
	for _, port := range [][2]string{{in, "inlet_kpa"}, {cold, "inlet_c"}, {out, "compressor_out_kpa"}} {
		if port[0] == "" {
			missing = append(missing, port[1])
		}
	}
	if missing != nil {
		w.find(schema.Note, "compressor_port_missing", "compressor_eff_frac", fmt.Sprintf("the compressor's efficiency is left out: it needs %s, which was not logged; manifold and barometric pressure do not stand for a port's, as they would make the cooler's and the air filter's losses the compressor's", strings.Join(missing, ", ")), math.NaN(), "")
		return
	}
	w.checked("compressor_eff_frac", "compressor_eff_implausible", "pressures and temperatures of the ports do not go together, as where a hot housing warms the air of an idling engine, a slow probe lags or two channels are exchanged", func(i int) float64 {
		return CompressorEfficiency(AbsKPa(p1.at(i)), AbsKPa(p2.at(i)), Celsius(t1.at(i)), Celsius(t2.at(i)))
	})
}

// correctedAir adds the air flow referred to the map's inlet state.
func (w *work) correctedAir() {
	air, have := w.of("air_kg_h")
	if have == "" {
		return
	}
	p, port := w.of("inlet_kpa")
	t, probe := w.of("inlet_c")
	if port == "" {
		p = w.baro
	}
	if probe == "" {
		t = w.stated("ambient_c", w.Run.AmbientC)
	}
	reference := MapReference()
	w.fill("corrected_air_kg_s", func(i int) float64 {
		return float64(CorrectedFlow(KGH(air.at(i)), State{AbsKPa(p.at(i)), Celsius(t.at(i))}, reference))
	})
	if !w.Has("corrected_air_kg_s") {
		return
	}
	if port == "" {
		w.find(schema.Note, "corrected_air_baro", "corrected_air_kg_s", "the pressure at the compressor's inlet was not logged: barometric stands for it, which reads the flow low by the air filter's loss", math.NaN(), "kPa")
	}
	if probe == "" {
		w.find(schema.Note, "corrected_air_ambient", "corrected_air_kg_s", "the temperature at the compressor's inlet was not logged: ambient stands for it, which reads the flow low where the air warms on its way", math.NaN(), "°C")
	}
}

// cooler adds the charge cooler's effectiveness and its pressure loss. A vehicle that is said to have none has neither.
func (w *work) cooler() {
	if w.Vehicle.ChargeCooling == "none" {
		return
	}
	before, _ := w.of("compressor_out_kpa")
	after, _ := w.of("map_kpa")
	w.fill("cooler_drop_kpa", func(i int) float64 { return float64(AbsKPa(before.at(i)).Less(AbsKPa(after.at(i)))) })
	in, hot := w.of("compressor_out_c")
	out, cooled := w.of("charge_c")
	if hot == "" || cooled == "" {
		return
	}
	cooling, inlet := w.stated("ambient_c", w.Run.AmbientC), false
	if !cooling.known() {
		var name string
		cooling, name = w.of("inlet_c")
		inlet = name != ""
	}
	w.checked("cooler_eff_frac", "cooler_eff_implausible", "the charge leaves the cooler warmer than it came or colder than the cooling air", func(i int) float64 {
		return CoolerEffectiveness(Celsius(in.at(i)), Celsius(out.at(i)), Celsius(cooling.at(i)))
	})
	if !w.Has("cooler_eff_frac") {
		return
	}
	if inlet {
		w.find(schema.Doubt, "cooler_inlet_air", "cooler_eff_frac", "no ambient temperature was logged or stated: the compressor inlet's stands for the cooling air, and under-hood heat in it flatters the cooler", math.NaN(), "°C")
	}
	if w.Vehicle.ChargeCooling == "liquid" {
		w.find(schema.Note, "cooler_liquid", "cooler_eff_frac", "the charge is cooled by a liquid: the effectiveness is that of cooler and radiator together, against ambient air", math.NaN(), "°C")
	}
}
