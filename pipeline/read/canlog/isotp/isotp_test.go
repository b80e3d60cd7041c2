package isotp_test

import (
	"encoding/hex"
	"strings"
	"testing"

	"dynolake/pipeline/read/canlog/isotp"
)

func bytes(t *testing.T, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// all gives every whole message of a row of frames a tenth of a second apart.
func all(t *testing.T, a *isotp.Assembler, frames ...string) (messages []string, kinds []isotp.Kind) {
	t.Helper()
	for i, f := range frames {
		m, kind := a.Add(float64(i)/10, bytes(t, f))
		kinds = append(kinds, kind)
		if kind == isotp.Whole {
			messages = append(messages, strings.ToUpper(hex.EncodeToString(m.Data)))
		}
	}
	return messages, kinds
}

// Frames by ISO 15765-2 as the Linux kernel's documentation iso15765-2 has it; the answers of 18 km/h and to six PIDs from public
// tables of OBD-II PIDs.
func TestMessages(t *testing.T) {
	for name, c := range map[string]struct {
		frames []string
		want   string
	}{
		"single, 1726 rpm":         {[]string{"04 41 0C 1A F8 AA AA AA"}, "410C1AF8"},
		"single, 18 km/h":          {[]string{"03 41 0D 12 00 00 00 00"}, "410D12"},
		"single without padding":   {[]string{"03 41 0D 12"}, "410D12"},
		"several PIDs":             {[]string{"10 0F 41 0B 21 0C 0C 38", "21 0D 00 0E 80 0F 3C 10", "22 00 FA 55 55 55 55 55"}, "410B210C0C380D000E800F3C1000FA"},
		"identification, 20 bytes": {[]string{"10 14 49 02 01 31 32 33", "21 34 35 36 37 38 39 30", "22 41 42 43 44 45 46 47"}, "4902013132333435363738393041424344454647"},
		"flow control in between":  {[]string{"10 0A 41 70 03 1E 00 1D", "30 00 00", "21 60 00 00 00 00 00 00"}, "4170031E001D60000000"},
		"a CAN FD single frame":    {[]string{"00 0A 41 70 03 1E 00 1D 60 00 00 00"}, "4170031E001D60000000"},
		"a first frame, then anew": {[]string{"10 14 49 02 01 31 32 33", "10 0F 41 0B 21 0C 0C 38", "21 0D 00 0E 80 0F 3C 10", "22 00 FA"}, "410B210C0C380D000E800F3C1000FA"},
		"a single frame ends it":   {[]string{"10 14 49 02 01 31 32 33", "03 41 0D 12", "21 34 35 36 37 38 39 30"}, "410D12"},
		"the counter runs over":    {append([]string{"10 76 41 00 01 02 03 04"}, counted()...), "41000102030405060708090A0B0C0D0E0F101112131415161718191A1B1C1D1E1F202122232425262728292A2B2C2D2E2F303132333435363738393A3B3C3D3E3F404142434445464748494A4B4C4D4E4F505152535455565758595A5B5C5D5E5F606162636465666768696A6B6C6D6E6F7071727374"},
	} {
		var a isotp.Assembler
		if got, kinds := all(t, &a, c.frames...); len(got) != 1 || got[0] != c.want {
			t.Errorf("%s: %v %v, want %s", name, got, kinds, c.want)
		}
	}
}

// counted gives consecutive frames that carry 05, 06 and so on, their counters from 1 to 15, then 0.
func counted() []string {
	var frames []string
	next := 5
	for i := range 16 {
		f := []byte{byte(0x20 | (i+1)&0x0F)}
		for range 7 {
			f = append(f, byte(next))
			next++
		}
		frames = append(frames, hex.EncodeToString(f))
	}
	return frames
}

func TestDamage(t *testing.T) {
	for name, c := range map[string]struct {
		frames []string
		kind   isotp.Kind
		broken int
	}{
		"a lost frame":              {[]string{"10 14 49 02 01 31 32 33", "22 41 42 43 44 45 46 47"}, isotp.Lost, 1},
		"a doubled frame":           {[]string{"10 14 49 02 01 31 32 33", "21 34 35 36 37 38 39 30", "21 34 35 36 37 38 39 30"}, isotp.Lost, 1},
		"no first frame":            {[]string{"21 34 35 36 37 38 39 30"}, isotp.Lost, 0},
		"a length beyond the bytes": {[]string{"07 41 0C"}, isotp.Malformed, 0},
		"a first frame of 7 bytes":  {[]string{"10 07 49 02 01 31 32 33"}, isotp.Malformed, 0},
		"a length of 32 bits":       {[]string{"10 00 FF FF FF FF 00 00"}, isotp.Malformed, 0},
		"a short frame within":      {[]string{"10 14 49 02 01 31 32 33", "21 34 35"}, isotp.Malformed, 1},
		"a kind of its own":         {[]string{"50 00"}, isotp.Malformed, 0},
	} {
		var a isotp.Assembler
		got, kinds := all(t, &a, c.frames...)
		if len(got) > 0 || kinds[len(kinds)-1] != c.kind || a.Broken != c.broken {
			t.Errorf("%s: %v, kinds %v, %d broken", name, got, kinds, a.Broken)
		}
	}
	var a isotp.Assembler
	a.Add(0, bytes(t, "10 14 49 02 01 31 32 33"))
	if _, kind := a.Add(1.5, bytes(t, "21 34 35 36 37 38 39 30")); kind != isotp.Lost || a.Broken != 1 {
		t.Errorf("a pause of 1.5 s: %v, %d broken", kind, a.Broken)
	}
}

// Whatever the frames, a message is never longer than the standard's 4095 bytes and never shorter than its stated length.
func FuzzAdd(f *testing.F) {
	f.Add([]byte{8, 0x10, 0x0A, 0x41, 0x70, 3, 0x1E, 0, 0x1D, 8, 0x21, 0x60, 0, 0, 0, 0, 0, 0})
	f.Add([]byte{4, 3, 0x41, 0x0D, 0x12, 12, 0, 10, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10})
	f.Fuzz(func(t *testing.T, data []byte) {
		var a isotp.Assembler
		for i := 0; len(data) > 0; i++ {
			n := min(int(data[0]), len(data)-1)
			m, kind := a.Add(float64(i)/100, data[1:1+n])
			if kind == isotp.Whole && (len(m.Data) == 0 || len(m.Data) > 4095) {
				t.Errorf("a message of %d bytes", len(m.Data))
			}
			data = data[1+n:]
		}
	})
}
