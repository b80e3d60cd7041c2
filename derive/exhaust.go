package derive

import (
	"math"

	"dynolake/schema"
)

// MinFilterFlow is the least volume flow in m³/s that a filter's resistance is divided by (common practice, no source): a small engine's
// idle, at which the sensor's offset is most of what it reads.
const MinFilterFlow = 0.02

// VolumeFlow is m R T / p, m³/s: a gas's flow at its own pressure and temperature, R being air's, which lean exhaust differs from by
// less than 1 % (ideal gas). NaN unless pressure and temperature are above zero.
func VolumeFlow(m KgPerS, at State) float64 {
	if !(m >= 0 && at.P > 0 && at.T > 0) {
		return math.NaN()
	}
	return float64(m) * AirConstant * float64(at.T) / (1000 * float64(at.P))
}

// FilterResistance is a filter's pressure loss over its volume flow, kPa per m³/s (Darcy's law without the gas's viscosity, which rises by
// half from 300 to 600 °C; definition). NaN below MinFilterFlow.
func FilterResistance(loss DiffKPa, flow float64) float64 {
	if !(flow >= MinFilterFlow) {
		return math.NaN()
	}
	return float64(loss) / flow
}

// exhaust adds the back pressure after the turbine and behind the particulate filter.
//
// exhaust_gauge = p_turbine_out - p_baro, else the whole exhaust's gauge pressure as logged; after_dpf = exhaust_gauge -
// dp_filter, kPa. By definition; no source.
func (w *work) exhaust() {
	out, outlet := w.of("turbine_out_kpa")
	total, _ := w.of("exhaust_total_kpa")
	filter, _ := w.of("dpf_delta_kpa")
	w.fill("exhaust_gauge_kpa", func(i int) float64 {
		if outlet == "" || !w.baro.known() {
			return total.at(i)
		}
		return float64(AbsKPa(out.at(i)).Less(AbsKPa(w.baro.at(i))))
	})
	gauge, _ := w.of("exhaust_gauge_kpa")
	w.fill("dpf_share_frac", func(i int) float64 { return FilterShare(DiffKPa(filter.at(i)), DiffKPa(gauge.at(i))) })
	w.fill("after_dpf_kpa", func(i int) float64 { return float64(DiffKPa(gauge.at(i)) - DiffKPa(filter.at(i))) })
}

// turbine adds the turbine flow parameter, on air and fuel.
func (w *work) turbine() {
	p, _ := w.of("turbine_in_kpa")
	t, _ := w.of("turbine_in_c")
	if w.exhaustFlow == nil {
		return
	}
	w.fill("turbine_flow", func(i int) float64 { return TurbineFlow(w.exhaustFlow(i), State{AbsKPa(p.at(i)), Celsius(t.at(i))}) })
}

// filter adds the particulate filter's resistance, at the pressure before it: the turbine's outlet, else barometric and the whole
// exhaust's gauge pressure, else barometric and the filter's own loss.
func (w *work) filter() {
	loss, logged := w.of("dpf_delta_kpa")
	t, probe := w.of("dpf_in_c")
	if logged == "" || probe == "" || w.exhaustFlow == nil {
		return
	}
	out, outlet := w.of("turbine_out_kpa")
	total, system := w.of("exhaust_total_kpa")
	before := func(i int) AbsKPa { return AbsKPa(w.baro.at(i)) + AbsKPa(loss.at(i)) }
	switch {
	case outlet != "":
		before = func(i int) AbsKPa { return AbsKPa(out.at(i)) }
	case system != "":
		before = func(i int) AbsKPa { return AbsKPa(w.baro.at(i)) + AbsKPa(total.at(i)) }
	}
	w.checked("dpf_resist", "dpf_resist_implausible", "the filter's pressure loss does not go with the flow: look at the sensor's zero and its hoses", func(i int) float64 {
		return FilterResistance(DiffKPa(loss.at(i)), VolumeFlow(w.exhaustFlow(i), State{before(i), Celsius(t.at(i))}))
	})
	if resist, have := w.of("dpf_resist"); have != "" {
		w.fill("dpf_resist_ref", func(i int) float64 { return ReferredResistance(resist.at(i), Celsius(t.at(i))) })
	}
	if outlet == "" && system == "" && w.Has("dpf_resist") {
		w.find(schema.Note, "dpf_pressure_assumed", "dpf_resist", "no pressure before the filter was logged: barometric and the filter's own loss stand for it, which leaves out the loss of what follows it", math.NaN(), "kPa")
	}
}
