package j1939_test

import (
	"math"
	"testing"

	"dynolake/pipeline/read/canlog/j1939"
)

// Where each parameter stands and what its bits are worth. Positions and scales by the FMS standard v02.00, a published J1939 message list,
// a list of PGNs and start bytes, an open NMEA 2000 and J1939 field database and the Equipment & Tool Institute's open compliance
// tests, as they are noted beside each in the table; from memory alone: the byte of SPN 106 and 157, the scale of 514, 2978 and 3563.
func TestPlaces(t *testing.T) {
	const eighth, kelvin = 0.125, 0.03125
	for _, c := range []struct {
		pgn          uint32
		spn          int
		first, bits  int
		scale, start float64
		unit         string
	}{
		{61444, 190, 4, 16, eighth, 0, "rpm"}, {61444, 512, 2, 8, 1, -125, "%"}, {61444, 513, 3, 8, 1, -125, "%"}, {65251, 544, 20, 16, 1, 0, "N·m"}, {65247, 514, 1, 8, 1, -125, "%"},
		{61443, 91, 2, 8, 0.4, 0, "%"}, {61443, 92, 3, 8, 1, 0, "%"}, {65270, 102, 2, 8, 2, 0, "kPa"}, {65270, 105, 3, 8, 1, -40, "°C"}, {65270, 106, 4, 8, 2, 0, "kPa"}, {65270, 173, 6, 16, kelvin, -273, "°C"},
		{64976, 3563, 5, 8, 2, 0, "kPa"}, {64976, 4817, 6, 16, 0.1, 0, "kPa"}, {65269, 108, 1, 8, 0.5, 0, "kPa"}, {65269, 171, 4, 16, kelvin, -273, "°C"}, {65269, 172, 6, 8, 1, -40, "°C"},
		{65262, 110, 1, 8, 1, -40, "°C"}, {65262, 175, 3, 16, kelvin, -273, "°C"}, {65245, 103, 2, 16, 4, 0, "rpm"}, {65170, 1209, 2, 16, 1. / 128, -250, "kPa"}, {65177, 1176, 1, 16, 1. / 128, -250, "kPa"},
		{65178, 1172, 1, 16, kelvin, -273, "°C"}, {64981, 2795, 8, 8, 0.4, 0, "%"}, {64931, 641, 3, 8, 0.4, 0, "%"}, {64946, 3251, 5, 16, 0.1, 0, "kPa"}, {64908, 3609, 1, 16, 0.1, 0, "kPa"}, {64908, 3610, 3, 16, 0.1, 0, "kPa"},
		{64948, 3242, 3, 16, kelvin, -273, "°C"}, {64947, 3246, 3, 16, kelvin, -273, "°C"}, {65266, 183, 1, 16, 0.05, 0, "L/h"}, {65243, 157, 3, 16, 1. / 256, 0, "MPa"}, {61450, 132, 3, 16, 0.05, 0, "kg/h"}, {61450, 2659, 1, 16, 0.05, 0, "kg/h"},
		{65265, 84, 2, 16, 1. / 256, 0, "km/h"}, {61445, 524, 1, 8, 1, -125, ""}, {61445, 526, 2, 16, 0.001, 0, ""}, {61445, 523, 4, 8, 1, -125, ""},
		{61442, 191, 2, 16, eighth, 0, "rpm"}, {61442, 522, 4, 8, 0.4, 0, "%"}, {61442, 161, 6, 16, eighth, 0, "rpm"}, {61440, 520, 2, 8, 1, -125, "%"}, {65257, 250, 5, 32, 0.5, 0, "L"}, {65253, 247, 1, 32, 0.05, 0, "h"},
		{61442, 560, 1, 2, 1, 0, ""}, {61442, 573, 1, 2, 1, 0, ""}, {61442, 574, 1, 2, 1, 0, ""},
	} {
		m, ok := j1939.Lookup(c.pgn)
		found := false
		for _, s := range m.Signals {
			if s.SPN != c.spn {
				continue
			}
			found = true
			if s.Byte != c.first || s.Bits != c.bits || math.Abs(float64(s.Scale)-c.scale) > 1e-15 || s.Offset != c.start || s.Unit != c.unit {
				t.Errorf("SPN %d of %d: %+v, want %+v", c.spn, c.pgn, s, c)
			}
		}
		if !ok || !found {
			t.Errorf("SPN %d is not in %d", c.spn, c.pgn)
		}
	}
	for spn, bit := range map[int]int{560: 1, 573: 3, 574: 5} { // Within the first byte of ETC1.
		if s, _ := j1939.Parameter(spn); s.Bit != bit {
			t.Errorf("SPN %d begins at bit %d, want %d", spn, s.Bit, bit)
		}
	}
}

// Parameters whose message varies or is not settled keep their length and scale (the Equipment & Tool Institute's tests; 2978 from
// memory). An exhaust pressure of 1/128 kPa from -250 reaches 251.99 kPa, as the published range has it.
func TestScalesWithoutPlaces(t *testing.T) {
	for _, c := range []struct {
		spn, bits    int
		scale, start float64
	}{{2629, 16, 0.03125, -273}, {2630, 16, 0.03125, -273}, {1180, 16, 0.03125, -273}, {1184, 16, 0.03125, -273}, {5833, 16, 0.005, 0}, {2978, 8, 1, -125}} {
		if s, ok := j1939.Parameter(c.spn); !ok || s.Bits != c.bits || float64(s.Scale) != c.scale || s.Offset != c.start {
			t.Errorf("SPN %d: %+v, want %+v", c.spn, s, c)
		}
	}
	s, _ := j1939.Parameter(1209)
	if low, high := s.Of(0), s.Of(0xFAFF); low != -250 || math.Abs(high-251.99) > 0.005 {
		t.Errorf("exhaust pressure from %v to %v kPa", low, high)
	}
	// 2 kPa a bit is 500 kPa of absolute manifold pressure; one open database's 0.1 would end at 25 kPa, below any engine's.
	if s, _ := j1939.Parameter(3563); s.Of(0xFA) != 500 {
		t.Errorf("manifold pressure ends at %v kPa", s.Of(0xFA))
	}
	// SPN 102 is gauge, 106, 108, 3563 and 4817 are absolute.
	for spn, ref := range map[int]string{102: "gauge", 106: "abs", 108: "abs", 3563: "abs", 4817: "abs"} {
		if s, _ := j1939.Parameter(spn); s.Ref != ref {
			t.Errorf("SPN %d counts from %q, want %q", spn, s.Ref, ref)
		}
	}
}
