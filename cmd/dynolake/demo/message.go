package demo

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// place is where a signal lies in a message, raw = (value − offset) / scale. Bytes and bits count from 1.
type place struct {
	column        string
	byte, bits    int
	scale, offset float64
	bit           int // Within the byte, 0 as 1.
}

// message is what a control unit sends at its own rate.
type message struct {
	name   string // In the database; empty for one that SAE J1939-71 names.
	id     uint32
	places []place
	big    bool // Big-endian.
	signed bool
}

// The messages of an invented truck: those of SAE J1939-71 (FMS-Standard v02.00 and others, as the reader's own table says), and
// two of an invented test cell's boxes, which a database beside the log names.
var (
	truckMessages = [...]message{
		{id: 0x0CF00400, places: []place{{"engine_speed_rpm", 4, 16, 0.125, 0, 0}}},
		{id: 0x0CF00300, places: []place{{"pedal_pct", 2, 8, 0.4, 0, 0}}},
		{id: 0x0CF00203, places: []place{{"converter_locked_frac", 1, 2, 1, 0, 3}}},
		{id: 0x18F00503, places: []place{{"gear", 4, 8, 1, -125, 0}}},
		{id: 0x18FDD000, places: []place{{"map_kpa", 6, 16, 0.1, 0, 0}}},
		{id: 0x18FEF500, places: []place{{"baro_kpa", 1, 8, 0.5, 0, 0}}},
		{id: 0x18F00A01, places: []place{{"maf_g_s", 3, 16, 0.05, 0, 0}}},
		{id: 0x18FEF200, places: []place{{"fuel_kg_h", 1, 16, 0.05, 0, 0}}},
		{id: 0x18FE9900, places: []place{{"inlet_kpa", 1, 16, 1.0 / 128, -250, 0}}},
		{id: 0x18FE9A00, places: []place{{"inlet_c", 1, 16, 0.03125, -273, 0}}},
		{id: 0x18FE9800, places: []place{{"turbine_in_c", 1, 16, 0.03125, -273, 0}}},
		{id: 0x18FEDD00, places: []place{{"turbo_speed_rpm", 2, 16, 4, 0, 0}}},
		{id: 0x18FDB200, places: []place{{"dpf_delta_kpa", 5, 16, 0.1, 0, 0}}},
		{id: 0x18FDB400, places: []place{{"dpf_in_c", 1, 16, 0.03125, -273, 0}}},
		{id: 0x18FD7C00, places: []place{{"regen_frac", 2, 2, 1, 0, 3}}},
		{id: 0x18FE6900, places: []place{{"charge_c", 7, 16, 0.03125, -273, 0}}},
		{id: 0x18FEEE00, places: []place{{"coolant_c", 1, 8, 1, -40, 0}, {"oil_c", 3, 16, 0.03125, -273, 0}}},
		{id: 0x18FEF803, places: []place{{"trans_c", 5, 16, 0.03125, -273, 0}}},
		{id: 0x18FEF100, places: []place{{"vehicle_speed_kmh", 2, 16, 1.0 / 256, 0, 0}}},
		{name: "Cell_gas", id: 0x18FF1080, places: []place{
			{"turbine_in_kpa", 1, 16, 0.02, 0, 0}, {"turbine_out_kpa", 3, 16, 0.02, 0, 0}, {"lambda_ratio", 5, 16, 0.0005, 0, 0}, {"compressor_out_kpa", 7, 16, 0.02, 0, 0},
		}},
		{name: "Cell_heat", id: 0x18FF1180, places: []place{{"compressor_out_c", 1, 16, 0.01, -50, 0}}},
		{name: "Cell_rollers", id: 0x18FF2081, big: true, signed: true, places: []place{
			{"roller_speed_kmh", 1, 16, 0.01, 0, 0}, {"wheel_power_kw", 3, 16, 0.02, 0, 0}, {"wheel_torque_nm", 5, 16, 1, 0, 0},
		}},
	}
)

// put writes a value at its place.
func (m *message) put(data *[8]byte, p place, x float64) {
	raw := uint64(clamp(math.Round((x-p.offset)/p.scale), 0, float64(uint64(1)<<p.bits-1)))
	if m.signed {
		raw = uint64(int64(math.Round((x-p.offset)/p.scale))) & (1<<p.bits - 1)
	}
	at := p.byte - 1
	switch {
	case m.big:
		data[at], data[at+1] = byte(raw>>8), byte(raw)
	case p.bits == 16:
		data[at], data[at+1] = byte(raw), byte(raw>>8)
	case p.bits == 8:
		data[at] = byte(raw)
	default:
		low := max(p.bit, 1) - 1
		mask := byte(1<<p.bits-1) << low
		data[at] = data[at]&^mask | byte(raw)<<low&mask
	}
}

// database names the cell's own messages as a CAN database (.dbc) does.
func database(channels []channel) string {
	var b strings.Builder
	b.WriteString("VERSION \"\"\n\nNS_ :\n\nBS_:\n\nBU_: Cell\n")
	for _, m := range truckMessages {
		if m.name == "" {
			continue
		}
		fmt.Fprintf(&b, "\nBO_ %d %s: 8 Cell\n", m.id|1<<31, m.name)
		for _, p := range m.places {
			c := channels[slices.IndexFunc(channels, func(c channel) bool { return c.column == p.column })]
			start, order, sign := 8*(p.byte-1), 1, "+"
			if m.big {
				start, order = start+7, 0
			}
			if m.signed {
				sign = "-"
			}
			fmt.Fprintf(&b, " SG_ %s : %d|%d@%d%s (%g,%g) [0|0] \"%s\" Cell\n", strings.ReplaceAll(c.name, " ", "_"), start, p.bits, order, sign, p.scale, p.offset, c.unit)
		}
	}
	fmt.Fprintf(&b, "\nCM_ \"%s\";\n", label)
	return b.String()
}
