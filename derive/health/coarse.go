package health

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// coarseShare is the step, as a share of the channel's range, from which it is called coarse: fewer than 40 levels.
const coarseShare = 0.025

// coarseLevels is how many steps a channel must have moved over: one of two or three levels is a switch.
const coarseLevels = 4

// telling is the range in the stored unit that a column must have moved over for its step to matter: a coolant that stays within three
// degrees is not coarse for being logged in whole ones. 0 for columns that are not judged.
func telling(column string) float64 {
	switch column {
	case "map_kpa", "compressor_out_kpa", "turbine_in_kpa":
		return 60
	case "turbine_out_kpa", "exhaust_total_kpa", "dpf_delta_kpa":
		return 8
	case "maf_g_s":
		return 40
	case "fuel_kg_h":
		return 8
	case "inj_mg":
		return 20
	case "engine_speed_rpm":
		return 800
	case "vehicle_speed_kmh", "roller_speed_kmh":
		return 40
	case "turbine_in_c", "turbine_out_c", "dpf_in_c":
		return 150
	case "compressor_out_c":
		return 60
	case "turbo_speed_rpm":
		return 30000
	case "rail_kpa":
		return 40000
	case "torque_nm", "engine_torque_nm":
		return 100
	case "wheel_power_kw":
		return 40
	}
	return 0
}

// coarse finds channels whose least step is a large part of what they move over.
func (s signal) coarse() []schema.Finding {
	span, step := s.span(), s.step*math.Abs(s.Scale)
	if least := telling(s.Column.Name); least == 0 || span < least || step < coarseShare*span || span < coarseLevels*step || len(s.v) < 3*fewest {
		return nil
	}
	return []schema.Finding{s.find(schema.Note, "channel_coarse", fmt.Sprintf("%q moves in steps of %.4g %s, %.1f %% of the %.4g %s that it moves over: figures that stand on it are no finer", s.Name, s.step, s.Unit, 100*step/span, span, s.Column.Unit), step, s.Column.Unit, s.t[0], s.t[len(s.t)-1])}
}
