package j1939_test

import (
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"dynolake/pipeline/read/canlog/j1939"
)

// Ids and their parts by SAE J1939-21; groups as a published message list and the FMS standard v02.00 have them.
func TestSplit(t *testing.T) {
	for _, c := range []struct {
		id       uint32
		priority byte
		pgn      uint32
		source   byte
		to       byte
	}{
		{0x0CF00400, 3, 61444, 0, 0xFF}, {0x18FEF600, 6, 65270, 0, 0xFF}, {0x18FDB255, 6, 64946, 0x55, 0xFF}, {0x18EA00F9, 6, 59904, 0xF9, 0}, {0x1CECFF00, 7, 60416, 0, 0xFF},
	} {
		if x := j1939.Split(c.id); x.Priority != c.priority || x.PGN != c.pgn || x.Source != c.source || x.Destination != c.to {
			t.Errorf("%X: %+v, want %+v", c.id, x, c)
		}
	}
}

// Valid raw values by the FMS standard v02.00.
func TestAvailable(t *testing.T) {
	for _, c := range []struct {
		raw  uint64
		bits int
		want bool
	}{
		{0x00, 8, true}, {0xFA, 8, true}, {0xFB, 8, false}, {0xFE, 8, false}, {0xFF, 8, false}, {0xFAFF, 16, true}, {0xFB00, 16, false}, {0xFE12, 16, false}, {0xFFFF, 16, false},
		{0xFAFFFFFF, 32, true}, {0xFFFFFFFF, 32, false}, {0, 2, true}, {1, 2, true}, {2, 2, false}, {3, 2, false}, {31, 5, false}, {30, 5, true},
	} {
		if got := j1939.Available(c.raw, c.bits); got != c.want {
			t.Errorf("%X of %d bits: %v", c.raw, c.bits, got)
		}
	}
}

func unhex(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Two frames of the Equipment & Tool Institute's open SAE J1939-84 compliance tests.
func TestFrames(t *testing.T) {
	value := func(pgn uint32, spn int, data string) float64 {
		m, _ := j1939.Lookup(pgn)
		for _, s := range m.Signals {
			if s.SPN == spn {
				return s.Value(unhex(t, data))
			}
		}
		t.Fatalf("no SPN %d in %X", spn, pgn)
		return 0
	}
	for _, c := range []struct {
		pgn  uint32
		spn  int
		data string
		want float64
	}{
		{0xF004, 512, "207D87481400F087", 0}, {0xF004, 513, "207D87481400F087", 10}, {0xF004, 190, "207D87481400F087", 649},
		{0xFDB2, 3251, "FFFFFFFF0100FFFF", 0.1},
	} {
		if got := value(c.pgn, c.spn, c.data); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("SPN %d: %v, want %v", c.spn, got, c.want)
		}
	}
}

// The 120 bytes of a freeze frame and every published figure in it, from the Equipment & Tool Institute's open SAE J1939-84
// compliance tests, part 3 step 13 (DM24 and DM25). NaN: not available.
func TestFreezeFrameVector(t *testing.T) {
	data := unhex(t, "19 F84D 84 8202 31A7 C624 CB 00 0A 204E B33B E001 04 73 A204 7D A509 1501 62 A925 7C29 5414 B62D A064 0F3C 0000 56 00 FFFF A00F 0100 0400 D62C 0200 402E 1F 1A00 C6020000 C0AF 8025 9625 732B B92D 7609 0B 00 8629 AF 3000 00 00 D7 5209 5834 C02B 201C 3A41 D3 E1 DF 8C C1 E561 0000 00 9E 1501 FFFFFFFF FFFF 1F 5014")
	nan := math.NaN()
	list := []struct {
		spn  int
		want float64
		tol  float64
	}{
		{91, 10, 0}, {27, 49.9, 0}, {513, 7, 0}, {132, 32.1, 0}, {3217, 10, 0.0005}, {171, 21.1875, 0}, {108, 101.5, 0}, {102, 0, 0}, {92, 10, 0}, {2791, 50, 0}, {5313, 59.699, 0.0005},
		{5833, 2.4, 0}, {5837, 4, 0}, {641, 46, 0}, {1692, 118.6, 0}, {512, 0, 0}, {2659, 123.45, 0}, {168, 13.85, 0}, {110, 58, 0}, {2630, 28.28125, 0}, {175, 58.875, 0}, {190, 650.5, 0},
		{173, 92.6875, 0}, {1436, 1.25, 0}, {157, 60.0586, 0.00005}, {1440, 0, 0}, {105, 46, 0}, {3563, 0, 0}, {3226, nan, 0}, {3216, 0, 0}, {3251, 0.1, 0}, {3609, 0.4, 0}, {4766, 85.6875, 0},
		{3610, 0.2, 0}, {3246, 97, 0}, {976, nan, 0}, {3301, 26, 0}, {247, 35.5, 0}, {1176, 101.5, 0}, {1172, 27, 0}, {2629, 27.6875, 0}, {1180, 74.59375, 0}, {1184, 92.78125, 0}, {103, 9688, 0},
		{2795, 4.4, 0}, {3490, 0, 0}, {412, 59.1875, 0}, {94, 700, 0}, {183, 2.4, 0}, {1081, 0, 0}, {3700, 0, 0}, {1761, 86, 0}, {544, 2386, 0}, {531, 1675, 0}, {530, 1400, 0}, {529, 900, 0},
		{528, 2087.25, 0}, {543, 86, 0}, {542, 100, 0}, {541, 98, 0}, {540, 15, 0}, {539, 68, 0}, {5466, 62.6525, 0}, {84, 0, 0}, {5457, 0, 0}, {96, 63.2, 0}, {158, 13.85, 0}, {3523, nan, 0},
		{7351, nan, 0}, {106, 62, 0}, {188, 650, 0},
	}
	at := 0
	for _, c := range list {
		s, ok := j1939.Parameter(c.spn)
		if !ok {
			t.Fatalf("no SPN %d", c.spn)
		}
		size := (s.Bits + 7) / 8
		s.Byte, s.Bit = at+1, 1 // A freeze frame gives every parameter whole bytes.
		at += size
		if got := s.Value(data); !(math.Abs(got-c.want) <= c.tol+1e-9 || math.IsNaN(got) && math.IsNaN(c.want)) {
			t.Errorf("SPN %d %s = %v, want %v", c.spn, s.Name, got, c.want)
		}
	}
	if at != len(data) || at != 120 {
		t.Errorf("%d bytes of %d were read", at, len(data))
	}
}

type packet struct {
	id   uint32
	data string
}

func carry(t *testing.T, tp *j1939.Transport, packets []packet) []string {
	var out []string
	for i, p := range packets {
		m, ok := tp.Add(float64(i)/20, j1939.Split(p.id), unhex(t, p.data))
		if ok {
			out = append(out, strings.ToUpper(hex.EncodeToString([]byte{byte(m.PGN >> 8), byte(m.PGN), m.Source}))+" "+strings.ToUpper(hex.EncodeToString(m.Data)))
		}
	}
	return out
}

// Packets by SAE J1939-21: TP.CM_BAM, TP.CM_RTS, TP.CM_CTS and TP.DT.
func TestTransport(t *testing.T) {
	bamA := []packet{{0x1CECFF00, "20 09 00 02 FF E3 FE 00"}, {0x1CEBFF00, "01 01 02 03 04 05 06 07"}, {0x1CEBFF00, "02 08 09 FF FF FF FF FF"}}
	rts := []packet{{0x1CEC0305, "10 0A 00 02 FF CA FE 00"}, {0x1CEC0503, "11 02 01 FF FF CA FE 00"}, {0x1CEB0305, "01 11 12 13 14 15 16 17"}, {0x1CEB0305, "02 18 19 1A FF FF FF FF"}, {0x1CEC0503, "13 0A 00 02 FF CA FE 00"}}
	for name, c := range map[string]struct {
		packets []packet
		want    string
	}{
		"BAM":                 {bamA, "FEE300 010203040506070809"},
		"RTS and CTS":         {rts, "FECA05 1112131415161718191A"},
		"interleaved":         {[]packet{bamA[0], rts[0], rts[1], bamA[1], rts[2], bamA[2], rts[3], rts[4]}, "FEE300 010203040506070809|FECA05 1112131415161718191A"},
		"a packet sent again": {[]packet{rts[0], rts[1], rts[2], rts[2], rts[3]}, "FECA05 1112131415161718191A"},
	} {
		var tp j1939.Transport
		if got := strings.Join(carry(t, &tp, c.packets), "|"); got != c.want || tp.Malformed > 0 {
			t.Errorf("%s: %s, %d malformed, want %s", name, got, tp.Malformed, c.want)
		}
	}
	for name, c := range map[string]struct {
		packets           []packet
		broken, malformed int
	}{
		"a lost packet":             {[]packet{bamA[0], bamA[2]}, 1, 0},
		"announced anew":            {[]packet{bamA[0], bamA[1], bamA[0]}, 2, 0},
		"packets of none":           {[]packet{bamA[1]}, 0, 1},
		"a size that does not fit":  {[]packet{{0x1CECFF00, "20 09 00 03 FF E3 FE 00"}}, 0, 1},
		"a size beyond the most":    {[]packet{{0x1CECFF00, "20 FF FF FF FF E3 FE 00"}}, 0, 1},
		"a number beyond the count": {[]packet{bamA[0], {0x1CEBFF00, "03 01 02 03 04 05 06 07"}}, 1, 1},
		"given up":                  {[]packet{rts[0], rts[2], {0x1CEC0503, "FF 01 FF FF FF CA FE 00"}, rts[3]}, 1, 1},
	} {
		var tp j1939.Transport
		got := carry(t, &tp, c.packets)
		tp.Close()
		if len(got) > 0 || tp.Broken != c.broken || tp.Malformed != c.malformed {
			t.Errorf("%s: %v, %d broken, %d malformed", name, got, tp.Broken, tp.Malformed)
		}
	}
}

// Whatever the frames, a message is never longer than the standard's 1785 bytes, nor shorter than nine.
func FuzzTransport(f *testing.F) {
	f.Add([]byte{0, 0xFF, 32, 10, 0, 2, 0xFF, 0xE3, 0xFE, 0, 1, 0xFF, 1, 1, 2, 3, 4, 5, 6, 7, 1, 0xFF, 2, 8, 9, 10, 0xFF, 0xFF, 0xFF, 0xFF})
	f.Add([]byte{2, 0x21, 16, 9, 0, 2, 2, 0xE3, 0xFE, 0, 2, 0x21, 255, 0, 0, 0, 0, 0, 0, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		var tr j1939.Transport
		for i := 0; len(data) >= 10; i, data = i+1, data[10:] {
			id := j1939.ID{PGN: j1939.PGNControl, Source: data[0] >> 1, Destination: data[1]}
			if data[0]&1 == 1 {
				id.PGN = j1939.PGNData
			}
			if m, ok := tr.Add(float64(i)/100, id, data[2:10]); ok && (len(m.Data) < 9 || len(m.Data) > 1785) {
				t.Errorf("a message of %d bytes", len(m.Data))
			}
		}
		tr.Close()
	})
}
