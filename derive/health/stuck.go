package health

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// stuckRows is how many equal values a stuck channel has at the least.
const stuckRows = 10

// swing is what a mover moves by within a plateau: so much (stored unit) and, where times is above 0, so many times its lowest value. An air
// flow that triples is no matter of engine speed alone.
type swing struct {
	column string
	by     float64
	times  float64
}

// stuckRule says how long a column must stand still beside which movers.
type stuckRule struct {
	column  string
	seconds float64
	movers  []swing
}

// stuckRules are the columns that are judged. What may stand still by itself (a limited torque or fuel, a settled temperature, a
// coarse low pressure) is none of them.
func stuckRules() []stuckRule {
	air, fuel, inj := swing{"maf_g_s", 30, 3}, swing{"fuel_kg_h", 5, 3}, swing{"inj_mg", 15, 3}
	manifold, outlet, turbine := swing{"map_kpa", 60, 0}, swing{"compressor_out_kpa", 60, 0}, swing{"turbine_in_kpa", 60, 0}
	return []stuckRule{
		{"map_kpa", 4, []swing{outlet, turbine, air, fuel, inj}},
		{"compressor_out_kpa", 4, []swing{manifold, turbine, air, fuel, inj}},
		{"turbine_in_kpa", 4, []swing{manifold, outlet, air, fuel, inj}},
		{"maf_g_s", 4, []swing{manifold, outlet, turbine, fuel, inj}},
		{"turbo_speed_rpm", 4, []swing{manifold, outlet, turbine, air}},
		{"turbine_in_c", 10, []swing{manifold, outlet, air, fuel, inj}},
		{"turbine_out_c", 15, []swing{manifold, outlet, air, fuel, inj}},
		{"compressor_out_c", 15, []swing{manifold, outlet}},
		{"rail_kpa", 4, []swing{{"rail_set_kpa", 30000, 0}, fuel, inj}},
		{"vane_pct", 4, []swing{{"vane_set_pct", 30, 0}}},
		{"engine_speed_rpm", 4, []swing{{"roller_speed_kmh", 20, 1.5}, {"vehicle_speed_kmh", 20, 1.5}, {"output_shaft_rpm", 600, 1.5}}},
		{"roller_speed_kmh", 4, []swing{{"vehicle_speed_kmh", 20, 1.5}, {"output_shaft_rpm", 600, 1.5}}},
		{"vehicle_speed_kmh", 4, []swing{{"roller_speed_kmh", 20, 1.5}, {"output_shaft_rpm", 600, 1.5}}},
	}
}

// restsAtZero are the columns whose zero is a state of its own: an engine that stands, wheels that are not driven.
func restsAtZero(column string) bool {
	return column == "engine_speed_rpm" || column == "vehicle_speed_kmh" || column == "roller_speed_kmh"
}

// stuck finds the plateaus in which two movers (or the only one logged) say that the channel cannot stand still.
func (s signal) stuck(all []signal) []schema.Finding {
	var rule stuckRule
	for _, r := range stuckRules() {
		if r.column == s.Column.Name {
			rule = r
		}
	}
	if rule.column == "" {
		return nil
	}
	total, t0, t1, level, by := 0.0, math.NaN(), math.NaN(), 0.0, ""
	for p := range s.plateaus(stuckRows) {
		if s.seconds(p) < rule.seconds || s.v[p.from] == 0 && restsAtZero(s.Column.Name) {
			continue
		}
		names, ok := moved(rule.movers, all, s.t[p.from], s.t[p.to-1])
		if !ok {
			continue
		}
		if math.IsNaN(t0) {
			t0, level, by = s.t[p.from], s.v[p.from], names
		}
		t1, total = s.t[p.to-1], total+s.seconds(p)
	}
	if total == 0 && s.low == s.high && s.t[len(s.t)-1]-s.t[0] >= dead && !restsAtZero(s.Column.Name) && driven(all) {
		t0, t1, level, by = s.t[0], s.t[len(s.t)-1], s.low, "pedal_pct, engine_speed_rpm"
		total = t1 - t0
	}
	if total == 0 {
		return nil
	}
	return []schema.Finding{s.find(schema.Doubt, "channel_stuck", fmt.Sprintf("%q stands at %.6g %s for %.1f s in all while %s moves as it cannot without it: look at the sensor, its plug and its hose; the values are kept as logged", s.Name, level, s.Unit, total, by), total, "s", t0, t1)}
}

// moved tells which movers swing within a time, and whether they are enough: two, or the only one that is logged.
func moved(movers []swing, all []signal, t0, t1 float64) (names string, ok bool) {
	logged, n := 0, 0
	for _, m := range movers {
		for _, o := range all {
			if o.Column.Name != m.column {
				continue
			}
			logged++
			low, high, values := math.Inf(1), math.Inf(-1), 0
			from, to := o.within(t0, t1)
			for _, v := range o.v[from:to] {
				x := o.stored(v)
				low, high, values = min(low, x), max(high, x), values+1
			}
			if values >= 5 && high-low >= m.by && (m.times == 0 || high >= m.times*max(low, 0)) {
				if n++; names != "" {
					names += ", "
				}
				names += m.column
			}
			break
		}
	}
	return names, n >= 2 || n == 1 && logged == 1
}

// What tells that an engine was driven hard, for a channel that is one value all through.
const (
	dead       = 10.0 // s that the log has at the least.
	driveHard  = 80.0 // % of pedal, held
	driveHeld  = 3.0  // s, while
	driveRises = 1.6  // times the engine speed is reached within the log.
)

// driven reports whether pedal and engine speed say that the engine pulled through its range.
func driven(all []signal) bool {
	held, ratio := 0.0, 0.0
	for _, o := range all {
		switch o.Column.Name {
		case "pedal_pct":
			for i := 1; i < len(o.v); i++ {
				if o.stored(o.v[i]) >= driveHard && o.stored(o.v[i-1]) >= driveHard {
					held += math.Min(o.t[i]-o.t[i-1], 2*o.period)
				}
			}
		case "engine_speed_rpm":
			if o.q02 > 0 {
				ratio = o.q98 / o.q02
			} else if o.q98 > 0 {
				ratio = math.Inf(1)
			}
		}
	}
	return held >= driveHeld && ratio >= driveRises
}
