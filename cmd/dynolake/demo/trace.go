package demo

import "slices"

// signals are the columns of the catalogue that the model knows, in the order of a trace's row.
var signals = [...]string{
	"engine_speed_rpm", "pedal_pct", "load_pct", "engine_torque_nm", "fuel_kg_h", "inj_mg", "rail_kpa", "rail_set_kpa",
	"baro_kpa", "inlet_kpa", "inlet_c", "map_kpa", "map_set_kpa", "compressor_out_kpa", "compressor_out_c", "charge_c",
	"maf_g_s", "lambda_ratio", "egr_pct", "vane_pct", "vane_set_pct", "turbo_speed_rpm", "turbine_in_kpa", "turbine_in_c",
	"turbine_out_kpa", "turbine_out_c", "dpf_delta_kpa", "exhaust_total_kpa", "dpf_in_c", "soot_g", "regen_frac",
	"vehicle_speed_kmh", "gear", "converter_locked_frac", "output_shaft_rpm", "roller_speed_kmh", "roller_force_n",
	"wheel_torque_nm", "wheel_power_kw", "ambient_c", "humidity_pct", "coolant_c", "oil_c", "oil_kpa", "trans_c",
	"battery_v", "torque_nm",
}

// Positions in signals that the model itself reads back.
var (
	atSpeed  = index("engine_speed_rpm")
	atBaro   = index("baro_kpa")
	atMap    = index("map_kpa")
	atIn     = index("turbine_in_kpa")
	atOut    = index("turbine_out_kpa")
	atFilter = index("dpf_delta_kpa")
	atLambda = index("lambda_ratio")
	atPower  = index("wheel_power_kw")
	atTorque = index("torque_nm")
	atGear   = index("gear")
	atRegen  = index("regen_frac")
	atTarget = index("map_set_kpa")
)

func index(name string) int { return slices.Index(signals[:], name) }

// row is one instant of a trace.
type row [len(signals)]float64

// span is a stretch of a trace: first row and the row after its last.
type span struct {
	from, to int
	gear     int
}

// trace is a simulated run at the model's own step, without any sensor.
type trace struct {
	dt     float64
	rows   []row
	pulls  []span
	shifts []ShiftTruth
}

func (t *trace) duration() float64 { return float64(len(t.rows)-1) * t.dt }

// at gives a signal at a time, linear between rows; states are held.
func (t *trace) at(signal int, s float64) float64 {
	u := clamp(s/t.dt, 0, float64(len(t.rows)-1))
	i := min(int(u), len(t.rows)-2)
	a, b := t.rows[i][signal], t.rows[i+1][signal]
	if signal == atGear || signal == atRegen {
		return a
	}
	return a + (b-a)*(u-float64(i))
}
