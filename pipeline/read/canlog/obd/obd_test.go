package obd_test

import (
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"dynolake/pipeline/read/canlog/obd"
)

func answer(t *testing.T, text string) obd.Reply {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return obd.Parse(b)
}

// Values by SAE J1979 / ISO 15031-5 as two independent open tables have them: Scapy 2.5 (contrib/automotive/obd/pid) and an
// Apache-2.0 scale table; what only one of them or neither has is marked. NaN: the support byte denies it.
func TestValues(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		bytes string
		tol   float64
		want  []float64
	}{
		{"04 7F", 0.005, []float64{49.80}},
		{"05 7B", 0, []float64{83}}, {"0F 46", 0, []float64{30}}, {"46 7B", 0, []float64{83}}, {"5C 46", 0, []float64{30}},
		{"0B C8", 0, []float64{200}}, {"33 C8", 0, []float64{200}},
		{"0C 1A F8", 0, []float64{1726}},
		{"0D 3C", 0, []float64{60}},
		{"10 0F A0", 1e-9, []float64{40}},
		{"11 33", 1e-9, []float64{20}}, {"45 33", 1e-9, []float64{20}}, {"49 80", 0.0005, []float64{50.196}}, {"4A 80", 0.0005, []float64{50.196}}, {"5A 33", 1e-9, []float64{20}},
		{"1F 01 2C", 0, []float64{300}},
		{"22 03 E8", 1e-9, []float64{79}},
		{"23 2E E0", 0, []float64{120000}}, {"59 2E E0", 0, []float64{120000}},
		{"24 80 00 40 00", 1e-9, []float64{1, 2}}, {"2B 80 00 40 00", 1e-9, []float64{1, 2}},
		{"34 9C 40 80 00", 0.00005, []float64{1.2207, 0}}, {"3B 9C 40 80 00", 0.00005, []float64{1.2207, 0}}, // The second table; the first lacks the - 128.
		{"42 36 B0", 1e-9, []float64{14}},
		{"43 01 33", 0.005, []float64{120.39}},
		{"44 80 00", 0, []float64{1}},
		{"5D 6E 00", 0, []float64{10}},
		{"5E 01 90", 1e-9, []float64{20}},
		{"61 E1", 0, []float64{100}}, {"62 AF", 0, []float64{50}},
		{"63 01 F4", 0, []float64{500}},
		{"64 7D A0 C8 E1 F0", 0, []float64{0, 35, 75, 100, 115}},
		{"66 01 12 C0 00 00", 0, []float64{150, nan}},
		{"67 03 7B 82", 0, []float64{83, 90}},
		{"68 03 7B 82 00 00 00 00", 0, []float64{83, 90, nan, nan, nan, nan}},
		{"6B 03 7B 82 00 00", 0, []float64{83, 90, nan, nan}}, {"77 03 7B 82 00 00", 0, []float64{83, 90, nan, nan}},
		{"69 07 80 7F 80 00 00 00", 0.05, []float64{50.2, 49.8, 0, nan, nan, nan}},
		{"6A 03 80 7F 00 00", 0.05, []float64{50.2, 49.8, nan, nan}}, {"6C 03 80 7F 00 00", 0.05, []float64{50.2, 49.8, nan, nan}},
		{"6D 07 3A 98 3A 34 5A", 0, []float64{150000, 149000, 50, nan, nan, nan}},
		{"6D 3F 3A 98 3A 34 5A 3A 98 3A 34 5B", 0, []float64{150000, 149000, 50, 150000, 149000, 51}}, // The second table: 11 bytes.
		{"6E 03 03 E8 03 DE 00 00 00 00", 0, []float64{10000, 9900, nan, nan}},
		{"6F 01 62 00", 0, []float64{98, nan}},
		{"70 07 1E 00 1D 60 00 00 00 00 02", 0, []float64{240, 235, 2, nan, nan, nan}},
		{"71 03 80 7D 00 00 00", 0.05, []float64{50.2, 49.0, nan, nan, nan, nan}}, {"72 03 80 7D 00 00", 0.05, []float64{50.2, 49.0, nan, nan}},
		{"73 01 61 A8 00 00", 0, []float64{250, nan}},
		{"74 01 30 D4 00 00", 0, []float64{125000, nan}}, // Disputed: the second table has ×10, the first ×1.
		{"75 0F 46 AA 1F 40 1A 90", 1e-9, []float64{30, 130, 760, 640}}, {"76 0F 46 AA 1F 40 1A 90", 1e-9, []float64{30, 130, 760, 640}},
		{"78 01 1D 4C 00 00 00 00 00 00", 1e-9, []float64{710, nan, nan, nan}}, {"79 01 1D 4C 00 00 00 00 00 00", 1e-9, []float64{710, nan, nan, nan}},
		{"7A 01 01 F4 00 00 00 00", 1e-9, []float64{5, nan, nan}}, {"7B 01 FE 0C 00 00 00 00", 1e-9, []float64{-5, nan, nan}}, // Disputed: two's complement, from memory.
		{"7C 01 17 70 00 00 00 00 00 00", 1e-9, []float64{560, nan, nan, nan}},
		{"83 01 00 64 00 00", 0, []float64{100, nan, nan, nan}},                                                                 // Disputed: the first table has ×1, the second ×0.1.
		{"87 01 1D 60 00 00", 0, []float64{235, nan}},                                                                           // The second table.
		{"8B F1 01 80 00 3C 01 90", 0.05, []float64{1, nan, 50.2, 60, 400}},                                                     // From memory.
		{"8C 11 10 00 00 00 00 00 00 00 20 00 00 00 00 00 00 00", 0.001, []float64{6.250, nan, nan, nan, 0.999, nan, nan, nan}}, // The second table.
		{"8E 91", 0, []float64{20}},
		{"9D 00 64 00 C8", 1e-9, []float64{2, 4}}, {"9E 00 64", 1e-9, []float64{20}}, {"A2 00 64", 0, []float64{3.125}}, // The second table.
		{"A6 00 01 E2 40", 1e-9, []float64{12345.6}},
	} {
		r := answer(t, "41 "+c.bytes)
		if len(r.Items) != 1 || len(r.Rest) > 0 || len(r.Items[0].PID.Values) < len(c.want) {
			t.Errorf("%s: %+v", c.bytes, r)
			continue
		}
		it := r.Items[0]
		for i, want := range c.want {
			got := it.PID.Values[i].Of(it.Data)
			if !(math.Abs(got-want) <= c.tol || math.IsNaN(got) && math.IsNaN(want)) {
				t.Errorf("%s: %s = %v, want %v", c.bytes, it.PID.Values[i].Name, got, want)
			}
		}
	}
}

func TestSeveralPIDs(t *testing.T) {
	// The answer to a request for six PIDs, from a public table of OBD-II PIDs.
	r := answer(t, "41 0B 21 0C 0C 38 0D 00 0E 80 0F 3C 10 00 FA")
	var got []float64
	for _, it := range r.Items {
		got = append(got, it.PID.Values[0].Of(it.Data))
	}
	want := []float64{33, 782, 0, 0, 20, 2.5}
	if len(got) != 6 || len(r.Rest) > 0 {
		t.Fatalf("%+v", r)
	}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-9 {
			t.Errorf("%v, want %v", got, want)
		}
	}
	// A rail of 11 bytes among others is told from one of 6 by what comes out even.
	if r := answer(t, "41 6D 3F 3A 98 3A 34 5A 3A 98 3A 34 5B 0C 1A F8"); len(r.Items) != 2 || len(r.Items[0].Data) != 11 {
		t.Errorf("%+v", r)
	}
	if r := answer(t, "41 0C 1A F8 F7 01 02"); len(r.Items) != 1 || len(r.Rest) != 3 {
		t.Errorf("an unknown PID: %+v", r)
	}
	if r := answer(t, "41 0C 1A"); len(r.Items) != 0 || len(r.Rest) != 2 {
		t.Errorf("a cut PID: %+v", r)
	}
}

func TestFreezeFrame(t *testing.T) {
	r := answer(t, "42 0C 00 1A F8 05 00 7B")
	if r.Mode != 2 || len(r.Items) != 2 || r.Items[0].PID.Values[0].Of(r.Items[0].Data) != 1726 || r.Items[1].PID.Values[0].Of(r.Items[1].Data) != 83 {
		t.Errorf("%+v", r)
	}
	if r := answer(t, "43 01 01 33"); r.Mode != 0 {
		t.Errorf("another service: %+v", r)
	}
}

// Identifiers by ISO 15765-4.
func TestRoles(t *testing.T) {
	for _, c := range []struct {
		id       uint32
		extended bool
		want     obd.Role
	}{
		{0x7DF, false, obd.Request}, {0x7E0, false, obd.Request}, {0x7E7, false, obd.Request}, {0x7E8, false, obd.Answer}, {0x7EF, false, obd.Answer},
		{0x7F0, false, obd.Other}, {0x18DB33F1, true, obd.Request}, {0x18DA10F1, true, obd.Request}, {0x18DAF110, true, obd.Answer}, {0x7E8, true, obd.Other}, {0x18FEF600, true, obd.Other},
	} {
		if got := obd.RoleOf(c.id, c.extended); got != c.want {
			t.Errorf("%X: %v, want %v", c.id, got, c.want)
		}
	}
}

// Whatever the message, what is told apart and the rest are no more than its bytes.
func FuzzParse(f *testing.F) {
	f.Add([]byte{0x41, 0x0C, 0x1A, 0xF8, 0x05, 0x7B, 0x70, 3, 0x1E, 0})
	f.Add([]byte{0x42, 0x0C, 0x00, 0x1A, 0xF8})
	f.Add([]byte{0x41, 0x67, 0x67, 0x67, 0x67, 0x67, 0x67, 0x67, 0x67, 0x67, 0x67, 0x67})
	f.Fuzz(func(t *testing.T, message []byte) {
		r := obd.Parse(message)
		n := len(r.Rest)
		for _, i := range r.Items {
			n += 1 + len(i.Data)
		}
		if n > len(message) || r.Mode > 2 {
			t.Errorf("%d bytes of %d, mode %d", n, len(message), r.Mode)
		}
	})
}
