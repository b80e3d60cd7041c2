package health

import (
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// Plateaus at the top.
const (
	fullRows     = 5   // Equal values of a saturated channel,
	fullSeconds  = 0.5 // in one plateau, and
	fullLong     = 2.0 // s in all, unless the signal ran into the end.
	clipRows     = 10
	clipFine     = 100  // Quanta in the range of a channel whose flat top says anything.
	clipNone     = 1000 // Quanta that a channel without any is taken to have.
	clipEqual    = 0.10 // Share of equal neighbours in its upper half beside the plateaus.
	clipSlope    = 3.0  // Quanta that it rose by just before.
	endTolerance = 0.002
)

// ends are the figures at which a message or a sensor of the usual kinds ends, in stored units: what one or two bytes of a scan tool (SAE J1979; from two
// open tables) or of a commercial vehicle's bus (SAE J1939; from memory) can say at the most.
func ends(column string) []float64 {
	switch column {
	case "map_kpa", "inlet_kpa", "compressor_out_kpa", "turbine_in_kpa", "turbine_out_kpa":
		return []float64{255, 500, 510, 2047.97, 655.35}
	case "maf_g_s":
		return []float64{655.35, 2047.97}
	case "engine_speed_rpm":
		return []float64{8031.875, 16383.75}
	case "vehicle_speed_kmh", "roller_speed_kmh":
		return []float64{255, 250.996}
	case "inlet_c", "charge_c", "coolant_c", "ambient_c", "compressor_out_c", "oil_c", "trans_c":
		return []float64{210, 215}
	case "turbine_in_c", "turbine_out_c", "dpf_in_c":
		return []float64{1734.97, 6513.5}
	case "rail_kpa":
		return []float64{250998, 655350}
	case "lambda_ratio":
		return []float64{1.999, 2}
	}
	return nil
}

// levels are columns whose top is a plain state: a pedal, a limited torque, a valve at its stop, a value asked for.
func levels(c schema.Column) bool {
	switch c.Quantity {
	case "percentage", "torque", "power", "force", "count", "concentration", "voltage", "mass", "mass per stroke":
		return true
	}
	return slices.Contains([]string{"fuel_kg_h", "lambda_ratio", "rail_set_kpa", "map_set_kpa", "baro_kpa", "humidity_pct", "ambient_c", "coolant_c", "oil_c", "trans_c", "oil_kpa", "engine_speed_rpm", "vehicle_speed_kmh", "roller_speed_kmh", "output_shaft_rpm", "dpf_delta_kpa", "exhaust_total_kpa"}, c.Name)
}

// ending is the end that a logged level stands at, with what kind of end it is; empty where it is none that is known.
func (s signal) ending(v, baro float64) string {
	if s.Column.Quantity != "voltage" && (s.Unit == "V" || s.Unit == "v") {
		if v >= 4.98 && v <= 5.05 {
			return "the sensor's supply of 5 V"
		}
		return ""
	}
	if v == 65535 || v == 32767 {
		return fmt.Sprintf("%.0f, the most that two bytes can say", v)
	}
	x := s.stored(v)
	slack := endTolerance
	if s.AddBaro {
		x, slack = x+baro, 2*endTolerance // Barometric was another, rounded, where a gauge figure was made of an absolute one.
	}
	for _, e := range ends(s.Column.Name) {
		if math.Abs(x-e) <= slack*e {
			return fmt.Sprintf("%.6g %s, the most that such a channel can say", e, s.Column.Unit)
		}
	}
	return ""
}

// coldEnd is where messages with an offset of 40 °C end: what they say of an open sensor.
const coldEnd = -40

// open finds a temperature that stands at the lower end of its message.
func (s signal) open() []schema.Finding {
	if s.Column.Quantity != "temperature" || math.Abs(s.stored(s.low)-coldEnd) > 0.06 && math.Abs(s.stored(s.high)-coldEnd) > 0.06 {
		return nil
	}
	total, t0, t1 := 0.0, math.NaN(), math.NaN()
	for p := range s.plateaus(fullRows) {
		if math.Abs(s.stored(s.v[p.from])-coldEnd) > 0.06 || s.seconds(p) < fullSeconds {
			continue
		}
		if math.IsNaN(t0) {
			t0 = s.t[p.from]
		}
		t1, total = s.t[p.to-1], total+s.seconds(p)
	}
	if total == 0 {
		return nil
	}
	return []schema.Finding{s.find(schema.Doubt, "channel_saturated", fmt.Sprintf("%q stands at -40 °C for %.1f s in all, the least that such a message can say: an open or unplugged sensor", s.Name, total), total, "s", t0, t1)}
}

// saturated finds plateaus at the channel's own highest value where that is the end of the sensor or of the message.
func (s signal) saturated(all []signal, baro float64) []schema.Finding {
	end := s.ending(s.high, baro)
	if end == "" || s.low == s.high && s.Column.Name == "lambda_ratio" {
		return nil
	}
	total, t0, t1, hard := 0.0, math.NaN(), math.NaN(), false
	for p := range s.plateaus(fullRows) {
		if s.v[p.from] != s.high || s.seconds(p) < fullSeconds || s.Column.Name == "lambda_ratio" && !loaded(all, s.t[p.from], s.t[p.to-1]) {
			continue // Lean beyond the sensor's range is how a diesel coasts and idles.
		}
		if math.IsNaN(t0) {
			t0 = s.t[p.from]
		}
		t1, total = s.t[p.to-1], total+s.seconds(p)
		hard = hard || s.step > 0 && s.entry(p) >= 2*s.step
	}
	if total == 0 || !hard && total < fullLong {
		return nil
	}
	return []schema.Finding{s.find(schema.Doubt, "channel_saturated", fmt.Sprintf("%q stands at %s for %.1f s in all: the true value is higher than what is logged there; log it from a sensor or a message with more range", s.Name, end, total), total, "s", t0, t1)}
}

// loaded reports whether pedal or fuel say that the engine works hard at some time of a stretch.
func loaded(all []signal, t0, t1 float64) bool {
	for _, o := range all {
		limit := 80.0
		switch o.Column.Name {
		case "pedal_pct":
		case "fuel_kg_h", "inj_mg":
			limit = 0.5 * o.q98
		default:
			continue
		}
		from, to := o.within(t0, t1)
		for _, v := range o.v[from:to] {
			if o.stored(v) >= limit {
				return true
			}
		}
	}
	return false
}

// clipped finds a flat top at no known end in a channel that is finely resolved and elsewhere never still.
func (s signal) clipped() []schema.Finding {
	step := s.step
	if step == 0 {
		step = (s.high - s.low) / clipNone // As fine as the log's digits are.
	}
	if levels(s.Column) || step == 0 || s.high-s.low < clipFine*step {
		return nil
	}
	top := s.plateaus(clipRows)
	total, rows, t0, t1, steep := 0.0, 0, math.NaN(), math.NaN(), false
	for p := range top {
		if s.v[p.from] != s.high || s.seconds(p) < fullSeconds {
			continue
		}
		if math.IsNaN(t0) {
			t0 = s.t[p.from]
		}
		t1, total, rows = s.t[p.to-1], total+s.seconds(p), rows+p.to-p.from
		steep = steep || s.entry(p) >= clipSlope*step
	}
	if rows == 0 || !steep || s.stillness() > clipEqual {
		return nil
	}
	return []schema.Finding{s.find(schema.Doubt, "channel_clipped", fmt.Sprintf("%q has a flat top at %.6g %s, held for %.1f s in all, though it is never still elsewhere: something between sensor and log ends there, and the true value may be higher", s.Name, s.high, s.Unit, total), total, "s", t0, t1)}
}

// stillness is the share of equal neighbours among the values of the upper half, those at the very top left out; 1 with too few to tell.
func (s signal) stillness() float64 {
	half, n, equal := (s.low+s.high)/2, 0, 0
	for i := 1; i < len(s.v); i++ {
		if s.v[i] < half || s.v[i] == s.high || s.v[i-1] == s.high {
			continue
		}
		if n++; s.v[i] == s.v[i-1] {
			equal++
		}
	}
	if n < fewest {
		return 1
	}
	return float64(equal) / float64(n)
}
