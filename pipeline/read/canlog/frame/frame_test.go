package frame_test

import (
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"testing"

	"dynolake/pipeline/read/canlog/frame"
)

// The spellings are those of can-utils' candump; the lines are after the examples in the open logs of cantools/cantools (MIT).
func TestSpellings(t *testing.T) {
	const bytes = "F000000000000000"
	for line, want := range map[string]frame.Frame{
		"vcan0  0C8   [8]  F0 00 00 00 00 00 00 00":                                     {},
		"(2020-12-19 12:04:45.485261)  vcan0  0C8   [8]  F0 00 00 00 00 00 00 00":       {Stamp: frame.Stamp{Form: frame.Date, Seconds: 1608379485.485261}},
		"(002.047817)  vcan0  0C8   [8]  F0 00 00 00 00 00 00 00":                       {Stamp: frame.Stamp{Form: frame.Seconds, Seconds: 2.047817}},
		"(1594172461.968006) vcan0 0C8#F000000000000000":                                {Stamp: frame.Stamp{Form: frame.Epoch, Seconds: 1594172461.968006}},
		"(1594172461.968006) vcan0 0C8#F000000000000000 T":                              {Stamp: frame.Stamp{Form: frame.Epoch, Seconds: 1594172461.968006}},
		"(1594172461.968006) vcan0 0C8#F000000000000000 R":                              {Stamp: frame.Stamp{Form: frame.Epoch, Seconds: 1594172461.968006}},
		"(1594172461.968006) vcan0 0C8##1F000000000000000":                              {Stamp: frame.Stamp{Form: frame.Epoch, Seconds: 1594172461.968006}, FD: true},
		"(1594172461.968006) vcan0 000000C8#F0.00.00.00.00.00.00.00":                    {Stamp: frame.Stamp{Form: frame.Epoch, Seconds: 1594172461.968006}, Extended: true},
		" (002.047817)  vcan0  RX - -  0C8   [8]  F0 00 00 00 00 00 00 00   '........'": {Stamp: frame.Stamp{Form: frame.Seconds, Seconds: 2.047817}},
		"(1594172461.968006123) vcan0 0C8   [08]  F0 00 00 00 00 00 00 00":              {Stamp: frame.Stamp{Form: frame.Epoch, Seconds: 1594172461.968006123}, FD: true},
	} {
		var f frame.Frame
		if err := frame.Parse([]byte(line), &f); err != nil {
			t.Errorf("%q: %v", line, err)
			continue
		}
		if f.Stamp.Form != want.Stamp.Form || f.Stamp.Seconds != want.Stamp.Seconds || f.FD != want.FD || f.Extended != want.Extended ||
			string(f.Bus) != "vcan0" || f.ID != 0xC8 || strings.ToUpper(hex.EncodeToString(f.Data())) != bytes {
			t.Errorf("%q: %+v", line, f)
		}
	}
}

func TestFlags(t *testing.T) {
	for line, ok := range map[string]func(f frame.Frame) bool{
		"(1.5) can0 0C8#R":                                           func(f frame.Frame) bool { return f.Remote },
		"(1.5) can0 0C8#R8":                                          func(f frame.Frame) bool { return f.Remote },
		"(1.5) can0 0C8 [0] remote request":                          func(f frame.Frame) bool { return f.Remote },
		"(1.5) can0 20000080#0000000000000000":                       func(f frame.Frame) bool { return f.Error },
		"(1.5) can0 20000080 [8] 00 00 00 00 00 00 00 00 ERRORFRAME": func(f frame.Frame) bool { return f.Error },
		"(1.5) can0 0C8#":                                            func(f frame.Frame) bool { return f.Len == 0 },
		"(1.5) can0 0C8 [0]":                                         func(f frame.Frame) bool { return f.Len == 0 },
		"(1.5) can0 1FFFFFFF#01":                                     func(f frame.Frame) bool { return f.ID == 0x1FFFFFFF && f.Extended },
	} {
		var f frame.Frame
		if err := frame.Parse([]byte(line), &f); err != nil || !ok(f) {
			t.Errorf("%q: %+v, %v", line, f, err)
		}
	}
}

func TestRefused(t *testing.T) {
	for line, want := range map[string]error{
		"(1648574057.733906(1648575604.162655) can0 18EFA2FF#23D8010000000000": frame.ErrForm, // A power cut in mid-line.
		"(1594172461.968006) vcan0 0C8#F00":                                    frame.ErrForm,
		"(1594172461.968006) vcan0 0C8#F0000000000000000000":                   frame.ErrForm,
		"(1594172461.968006) vcan0 0C8":                                        frame.ErrForm,
		"(1594172461.968006) vcan0":                                            frame.ErrForm,
		"(1594172461.968006":                                                   frame.ErrForm,
		"(1594172461.968006) vcan0 8FF#00":                                     frame.ErrForm,
		"(now) vcan0 0C8#00":                                                   frame.ErrForm,
		"(1.5) can0 0C8 [8] F0 00":                                             frame.ErrLength,
		"(1.5) can0 0C8 [2] F0 00 00":                                          frame.ErrLength,
		"(1.5) can0 0C8 [99] F0 00 00":                                         frame.ErrForm,
		"Time,RPM":                                                             frame.ErrForm,
		"":                                                                     frame.ErrForm,
	} {
		var f frame.Frame
		if err := frame.Parse([]byte(line), &f); !errors.Is(err, want) {
			t.Errorf("%q: %+v, %v, want %v", line, f, err, want)
		}
	}
}

// What is read and written again in log form is read as the same.
func FuzzParse(f *testing.F) {
	for _, line := range []string{"(1594172461.968006) vcan0 0C8#F000", "(2020-12-19 12:04:45.485261) vcan0 18FEF600 [2] F0 00", "(002.047817) can1 RX - - 7E8 [1] 04 '.'", "x 1##0", "(1.) a 0C8 [12] 00"} {
		f.Add([]byte(line))
	}
	f.Fuzz(func(t *testing.T, line []byte) {
		var a, b frame.Frame
		if frame.Parse(line, &a) != nil || a.Remote || a.Error {
			return
		}
		sep, id := "#", fmt.Sprintf("%03X", a.ID)
		if a.FD {
			sep = "##0"
		}
		if a.Extended {
			id = fmt.Sprintf("%08X", a.ID)
		}
		if !a.FD && a.Len > 8 {
			t.Fatalf("%q: %d bytes in a classic frame", line, a.Len)
		}
		text := fmt.Sprintf("(1594172461.968006) %s %s%s%X", a.Bus, id, sep, a.Data())
		if err := frame.Parse([]byte(text), &b); err != nil || b.ID != a.ID || b.Extended != a.Extended || string(b.Data()) != string(a.Data()) {
			t.Errorf("%q written as %q: %+v, %v", line, text, b, err)
		}
	})
}
