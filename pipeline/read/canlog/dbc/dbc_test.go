package dbc_test

import (
	"strings"
	"testing"

	"dynolake/pipeline/read/canlog/dbc"
)

const shop = "VERSION \"1\"\r\n\r\nNS_ :\r\n\tCM_\r\n\tBA_\r\n\r\nBS_:\r\n\r\nBU_: Box Gauge\r\n\r\n" +
	"BO_ 256 Turbo: 8 Box\r\n" +
	" SG_ Mode M : 0|4@1+ (1,0) [0|15] \"\" Gauge\r\n" +
	" SG_ Speed m1 : 8|16@1+ (10,0) [0|655350] \"rpm\" Gauge\r\n" +
	" SG_ Temp m2 : 15|16@0- (0.1,0) [-273|1200] \"\xb0C\" Gauge\r\n" +
	" SG_ State : 56|2@1+ (1,0) [0|3] \"\" Vector__XXX\r\n" +
	"\r\nBO_ 2566846206 IC1: 8 Vector__XXX\r\n SG_ Boost : 8|8@1+ (2,0) [0|500] \"kPa\" Vector__XXX\r\n" +
	"BO_ 3221225472 VECTOR__INDEPENDENT_SIG_MSG: 0 Vector__XXX\r\n SG_ Orphan : 0|8@1+ (1,0) [0|0] \"\" Vector__XXX\r\n\r\n" +
	"CM_ SG_ 256 Speed \"Shaft; as the box \\\"sees\\\" it.\r\nSecond line // no comment\";\r\n" +
	"BA_DEF_ BO_ \"VFrameFormat\" ENUM \"StandardCAN\",\"ExtendedCAN\",\"J1939PG\";\r\nBA_DEF_DEF_ \"VFrameFormat\" \"StandardCAN\";\r\n" +
	"BA_ \"VFrameFormat\" BO_ 2566846206 2;\r\nBA_ \"SPN\" SG_ 2566846206 Boost 102;\r\n" +
	"VAL_TABLE_ Switch 1 \"On\" 0 \"Off\" ;\r\nVAL_ 256 State Switch ;\r\n" +
	"SG_MUL_VAL_ 256 Temp Mode 2-3, 7-7;\r\n"

func TestParse(t *testing.T) {
	db, err := dbc.Parse("shop.dbc", []byte(shop))
	if err != nil || len(db.Messages) != 2 {
		t.Fatalf("%+v, %v", db, err)
	}
	m := &db.Messages[0]
	if s := m.Signal("Temp"); s.Unit != "°C" || s.Order != dbc.BigEndian || !s.Signed || m.When(s) != "Mode=2-3,7" {
		t.Errorf("Temp: %+v", s)
	}
	if s := m.Signal("Speed"); s.Comment != `Shaft; as the box "sees" it. Second line // no comment` {
		t.Errorf("comment: %q", s.Comment)
	}
	if got := m.Signal("State").Text(1); got != "On" {
		t.Errorf("text from a table: %q", got)
	}
	for _, c := range []struct {
		data   [8]byte
		signal string
		there  bool
		want   float64
	}{
		{[8]byte{0x01, 0x10, 0x27}, "Speed", true, 100000},
		{[8]byte{0x02, 0x10, 0x27}, "Speed", false, 0},
		{[8]byte{0x03, 0xFF, 0x9C}, "Temp", true, -10},
		{[8]byte{0x07, 0x1B, 0x58}, "Temp", true, 700},
		{[8]byte{0x04, 0x1B, 0x58}, "Temp", false, 0},
	} {
		s := m.Signal(c.signal)
		if there := m.There(s, c.data[:]); there != c.there {
			t.Errorf("% X: %s there: %v", c.data, c.signal, there)
		}
		if raw, ok := s.Raw(c.data[:]); c.there && (!ok || s.Of(raw) != c.want) {
			t.Errorf("% X: %s = %v, want %v", c.data, c.signal, s.Of(raw), c.want)
		}
	}
	if m, ok := db.Find(0x18FEF621, true); !ok || m.Name != "IC1" || m.Signals[0].SPN != 102 {
		t.Errorf("by parameter group: %+v", m)
	}
	if _, ok := m.Signal("Speed").Raw([]byte{1, 2}); ok {
		t.Error("a signal beyond the message's end was read")
	}
}

func TestParseErrorsSayWhere(t *testing.T) {
	for text, want := range map[string]string{
		"BO_ x Turbo: 8 Box": `f.dbc:1:5: found "x": expected a message id`,
		"BO_ 1 A: 8 B\n SG_ S : 0|8@2+ (1,0) [0|0] \"\" X":    `f.dbc:2:14: found "2": expected byte order 0 or 1`,
		"BO_ 1 A: 8 B\n SG_ S m : 0|8@1+ (1,0) [0|0] \"\" X":  `f.dbc:2:8: found "m": expected M, m and a number`,
		"BO_ 1 A: 8 B\n SG_ S : 0|8@1+ (1,0) [0|0 \"\" X":     `f.dbc:2:28: found ""`,
		"BO_ 1 A: 8 B\n SG_ S : 0|8@1+ (1,0) [0|0] \"kPa X\n": `f.dbc:2:29: a text that is never closed`,
		"SG_ S : 0|8@1+ (1,0) [0|0] \"\" X":                   `f.dbc:1:1: a signal outside of a message`,
		"Time,RPM\n0,800\n":                                   `f.dbc:1:1: no CAN database`,
		"":                                                    `f.dbc:1:1: no CAN database`,
		"BO_ 1 A: 8 B\n SG_ S : 0|8@1+ (1,0) [0|0] \"\" X\nSIG_VALTYPE_ 1 S : 1;": `f.dbc:3:20: type 1 for S of 8 bits`,
	} {
		if _, err := dbc.Parse("f.dbc", []byte(text)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// Any bytes give a database or an error that says where, never a panic; what is read stays within its bits.
func FuzzParse(f *testing.F) {
	f.Add([]byte(shop), []byte{1, 2, 3, 4, 5, 6, 7, 8})
	f.Add([]byte("BO_ 2147483648 A: 8 B\n SG_ S m0M : 63|64@0- (1e308,1) [0|0] \"\" X\nSIG_VALTYPE_ 2147483648 S : 2;"), []byte{0xFF})
	f.Fuzz(func(t *testing.T, text, data []byte) {
		db, err := dbc.Parse("f.dbc", text)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f.dbc:") {
				t.Errorf("the error names no place: %v", err)
			}
			return
		}
		for i := range db.Messages {
			m := &db.Messages[i]
			for k := range m.Signals {
				s := &m.Signals[k]
				raw, ok := s.Raw(data)
				if ok && s.Bits < 64 && raw>>s.Bits != 0 {
					t.Errorf("%s: %d bits read as %X", s.Name, s.Bits, raw)
				}
				_, _, _, _ = s.Of(raw), s.Text(raw), m.There(s, data), m.When(s)
			}
			db.Find(m.ID, m.Extended)
		}
	})
}
