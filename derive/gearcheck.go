package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// ratioApart is what a gear's ratio may be off the vehicle's, beyond what all are (common practice, no source): a neighbouring gear is 20 % away or more.
const ratioApart = 0.04

// ratiosAgree holds the ratio of engine speed to road speed in each gear, as logged or as found, against the vehicle's, once what all gears are
// off by is taken off.
func (w *work) ratiosAgree() {
	gear, source := w.of("gear", "gear_est")
	if source == "" || w.ratio == nil {
		return
	}
	locked, converter := w.of("converter_locked_frac")
	firm := w.firm(gear.column)
	apart := make([][]float64, len(w.Vehicle.GearRatios))
	for i, r := range w.ratio {
		if k := int(gear.at(i)) - 1; firm[i] && k >= 0 && k < len(apart) && !math.IsNaN(r) && (converter == "" || locked.at(i) >= 0.5) {
			apart[k] = append(apart[k], r-w.scale-math.Log(w.Vehicle.GearRatios[k]))
		}
	}
	for k, d := range apart {
		if len(d) < enoughRows {
			continue
		}
		q := stats.Quantiles(d, 0.25, 0.5, 0.75)
		if math.Abs(q[1]) <= ratioApart || q[0]*q[2] <= 0 || q[2]-q[0] > ratioApart { // What scatters so much is a slipping clutch or converter.
			continue
		}
		found := w.Vehicle.GearRatios[k] * math.Exp(q[1])
		w.find(schema.Doubt, "gear_ratio_off", source, fmt.Sprintf("in gear %d engine speed over road speed is that of a ratio of %.3g (the median of %d rows), the vehicle's is %.3g: check gear_ratios, or which gear was meant", k+1, found, len(d), w.Vehicle.GearRatios[k]), found, "1")
	}
}
