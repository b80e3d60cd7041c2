package demo

import (
	"math"
	"math/rand/v2"
)

// channel is one column of a log: how a recorder names a signal, in what unit and how finely it writes it.
type channel struct {
	name, unit, column string
	gauge              bool    // Written over barometric.
	quantum            float64 // Smallest step, in the file's unit; 0: as the decimals give it.
	decimals           int
	rate               float64 // Hz, of a form in which each channel has its own clock.
}

// ch names a channel with its unit's usual decimals.
func ch(name, unit, column string) channel {
	_, _, decimals := scale(column, unit)
	return channel{name: name, unit: unit, column: column, decimals: decimals}
}

// odd is a channel that nobody knows.
func odd(name, unit string) channel { return channel{name: name, unit: unit, decimals: 2} }

func (c channel) overBaro() channel       { c.gauge = true; return c }
func (c channel) digits(n int) channel    { c.decimals = n; return c }
func (c channel) steps(q float64) channel { c.quantum = q; return c }
func (c channel) at(hz float64) channel   { c.rate = hz; return c }

// scale gives, for a column, written = stored × factor + zero and the usual decimals. Stored units are the catalogue's; the factors are the exact
// definitions (NIST SP 811 app. B.8), written here once more so that the demo does not check a table by itself.
func scale(column, unit string) (factor, zero float64, decimals int) {
	if column == "maf_g_s" && unit == "kg/h" {
		return 3.6, 0, 2
	}
	switch unit {
	case "kPa", "kPa abs", "°C", "C", "degC", "Nm", "N·m", "km/h", "kg/h", "g/s", "%":
		return 1, 0, 2
	case "rpm", "1/min", "N", "mg/Hub":
		return 1, 0, 1
	case "kW", "-", "V":
		return 1, 0, 3
	case "mbar":
		return 10, 0, 1
	case "bar", "bar abs":
		return 0.01, 0, 4
	case "MPa":
		return 0.001, 0, 2
	case "psi":
		return 1 / 6.894757293168, 0, 3
	case "inHg":
		return 1 / 3.386388640, 0, 2
	case "°F":
		return 1.8, 32, 1
	case "hp":
		return 1 / 0.745699871582, 0, 2
	case "lb-ft":
		return 1 / 1.3558179483314, 0, 1
	case "lbf":
		return 1 / 4.4482216152605, 0, 1
	case "mph":
		return 1 / 1.609344, 0, 3
	case "lb/min": // From g/s.
		return 1 / 7.559872833, 0, 3
	case "L/h": // From kg/h.
		return 1 / densityKgL, 0, 2
	case "mm3/stk": // From mg.
		return 1 / densityKgL, 0, 2
	}
	return 1, 0, 2
}

// flaw is what a sensor of a kind adds: white noise as a share of the reading and outright, and the run's own gain and zero.
type flaw struct{ share, white, gain, zero float64 }

func flawOf(column string) flaw {
	switch column {
	case "engine_speed_rpm":
		return flaw{white: 1.5}
	case "map_kpa", "compressor_out_kpa", "turbine_out_kpa":
		return flaw{share: 0.003, white: 0.12, gain: 0.002, zero: 0.02}
	case "turbine_in_kpa":
		return flaw{share: 0.006, white: 0.2, gain: 0.002, zero: 0.02}
	case "dpf_delta_kpa", "exhaust_total_kpa":
		return flaw{share: 0.007, white: 0.04, gain: 0.003, zero: 0.01}
	case "wheel_power_kw", "torque_nm", "wheel_torque_nm", "roller_force_n":
		return flaw{share: 0.003, gain: 0.002}
	case "maf_g_s", "fuel_kg_h", "inj_mg":
		return flaw{share: 0.005, gain: 0.004}
	case "lambda_ratio":
		return flaw{share: 0.009, gain: 0.003}
	case "roller_speed_kmh", "output_shaft_rpm":
		return flaw{white: 0.012}
	case "vehicle_speed_kmh":
		return flaw{white: 0.05}
	case "rail_kpa":
		return flaw{share: 0.004}
	case "charge_c", "turbine_in_c", "coolant_c", "oil_c", "trans_c", "compressor_out_c", "turbine_out_c", "dpf_in_c", "inlet_c":
		return flaw{white: 0.25}
	}
	return flaw{}
}

// sensor reads one signal of one run.
type sensor struct {
	channel
	signal       int
	factor, zero float64
	flaw
	runGain, runZero float64
	rng              *rand.Rand
}

func (m Model) sensor(c channel, name string) *sensor {
	s := &sensor{channel: c, signal: index(c.column), flaw: flawOf(c.column), rng: m.rng(name + "/" + c.name)}
	s.factor, s.zero, _ = scale(c.column, c.unit)
	s.runGain, s.runZero = 1+bounded(s.rng, s.gain), bounded(s.rng, s.flaw.zero)
	return s
}

// read gives the value as the recorder writes it at a time of the run.
func (s *sensor) read(t *trace, at float64) float64 {
	if s.signal < 0 { // A channel nobody knows.
		return 50 + 20*math.Sin(at*0.7) + s.rng.NormFloat64()
	}
	x := t.at(s.signal, at)
	baro := 0.0
	if s.overAir() {
		baro = t.rows[0][atBaro]
	}
	if gauge := x - baro; gauge != 0 || s.overAir() {
		white := s.share*math.Abs(gauge) + s.white
		x = baro + gauge*s.runGain + s.runZero + white*s.rng.NormFloat64()
	}
	if s.gauge {
		x -= baro
	}
	x = x*s.factor + s.zero
	if s.quantum > 0 {
		x = math.Round(x/s.quantum) * s.quantum
	}
	return x
}

// overAir reports whether the column is an absolute pressure, whose sensor errs on what it reads over barometric.
func (s *sensor) overAir() bool {
	switch s.column {
	case "map_kpa", "map_set_kpa", "compressor_out_kpa", "turbine_in_kpa", "turbine_out_kpa":
		return true
	}
	return false
}
