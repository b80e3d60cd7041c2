package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Properties that the turbine's formulas take for exhaust gas: the gas turbine textbooks' pair (Cohen and Rogers; from memory). Air at
// 900 K has 1.121 and 1.344 (NBS Circular 564), which lies 2.4 % below in power and 2 % below in efficiency.
const (
	ExhaustCp    = 1.148 // kJ/(kg·K).
	ExhaustGamma = 1.333
)

// What the turbocharger's balance is judged by (common practice, no source).
const (
	minExpansion = 1.1 // Expansion ratio below which an efficiency says nothing.
	minWork      = 2.0 // kW of the compressor, likewise.
	balanceLow   = 0.5 // Compressor over turbine power: a bearing takes 2 to 10 %, hot housings and slow probes much of the rest.
	balanceHigh  = 1.1
)

// turbo adds the turbine's efficiency, both powers, their balance, and the shaft speed as maps have it.
func (w *work) turbo() {
	w.correctedSpeed()
	t1, _ := w.of("inlet_c")
	t2, _ := w.of("compressor_out_c")
	t3, _ := w.of("turbine_in_c")
	t4, _ := w.of("turbine_out_c")
	p3, _ := w.of("turbine_in_kpa")
	p4, _ := w.of("turbine_out_kpa")
	w.checked("turbine_eff_frac", "turbine_eff_implausible", "pressures and temperatures of the ports do not go together, as while a slow probe or a hot housing lags", func(i int) float64 {
		in, out := AbsKPa(p3.at(i)), AbsKPa(p4.at(i))
		if !(in.Over(out) >= minExpansion) {
			return math.NaN()
		}
		return TurbineEfficiency(in, out, Celsius(t3.at(i)), Celsius(t4.at(i)), ExhaustGamma)
	})
	if w.Has("turbine_eff_frac") {
		w.find(schema.Note, "turbine_heat_counts", "turbine_eff_frac", "it stands on the probes' temperatures: the heat that the turbine's housing loses counts as work and flatters it, most at low power", math.NaN(), "1")
	}
	if air, have := w.of("air_kg_h"); have != "" {
		w.fill("compressor_power_kw", func(i int) float64 {
			return GasPower(KGH(air.at(i)), AirCp, Celsius(t1.at(i)), Celsius(t2.at(i)))
		})
	}
	if w.exhaustFlow != nil {
		w.fill("turbine_power_kw", func(i int) float64 {
			return -GasPower(w.exhaustFlow(i), ExhaustCp, Celsius(t3.at(i)), Celsius(t4.at(i)))
		})
	}
	w.balance()
}

// PowerShare is the compressor's power over the turbine's, both in kW: the bearings' mechanical efficiency while the shaft's speed is steady (energy
// balance). NaN unless the compressor takes 2 kW at the least and the turbine gives any.
func PowerShare(compressor, turbine float64) float64 {
	if !(compressor >= minWork && turbine > 0) {
		return math.NaN()
	}
	return compressor / turbine
}

// balance holds the compressor's power against the turbine's.
func (w *work) balance() {
	taken, _ := w.of("compressor_power_kw")
	given, _ := w.of("turbine_power_kw")
	w.checked("turbo_balance_frac", "turbo_balance_implausible", "the two powers do not go together, as while the shaft gains speed or a probe lags", func(i int) float64 {
		return PowerShare(taken.at(i), given.at(i))
	})
	values := stats.Present(w.Column("turbo_balance_frac"))
	if len(values) < enoughRows {
		return
	}
	if middle := stats.Median(values); middle < balanceLow || middle > balanceHigh {
		w.find(schema.Doubt, "turbo_balance_off", "turbo_balance_frac", fmt.Sprintf("the compressor takes %.2f of what the turbine gives (the median of %d rows), where %.1f to %.1f is to be expected: check the temperatures of the four ports and the air meter", middle, len(values), balanceLow, balanceHigh), middle, "1")
	}
}

// correctedSpeed adds the shaft speed referred to the map's inlet temperature.
func (w *work) correctedSpeed() {
	shaft, have := w.of("turbo_speed_rpm")
	if have == "" {
		return
	}
	t, probe := w.of("inlet_c")
	if probe == "" {
		t = w.stated("ambient_c", w.Run.AmbientC)
	}
	reference := MapReference()
	w.fill("corrected_turbo_rpm", func(i int) float64 {
		return CorrectedSpeed(shaft.at(i), State{reference.P, Celsius(t.at(i))}, reference)
	})
	if probe == "" && w.Has("corrected_turbo_rpm") {
		w.find(schema.Note, "corrected_speed_ambient", "corrected_turbo_rpm", "the temperature at the compressor's inlet was not logged: ambient stands for it, which reads the corrected speed high where the air warms on its way", math.NaN(), "°C")
	}
}
