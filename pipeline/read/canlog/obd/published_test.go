package obd_test

import (
	"encoding/hex"
	"fmt"
	"math"
	"testing"

	"dynolake/pipeline/read/canlog/obd"
)

// The eight lambda sensors of PIDs 24 to 2B and 34 to 3B have one layout each (SAE J1979, as both open tables have it; the current's
// - 128 by the second).
func TestEveryLambdaSensor(t *testing.T) {
	for n := range 8 {
		for _, c := range []struct {
			pid  int
			data string
			want [2]float64
		}{{0x24 + n, "80004000", [2]float64{1, 2}}, {0x34 + n, "9C408000", [2]float64{1.2207, 0}}} {
			r := answer(t, fmt.Sprintf("41 %02X %s", c.pid, c.data))
			if len(r.Items) != 1 || len(r.Items[0].PID.Values) != 2 {
				t.Fatalf("%02X: %+v", c.pid, r)
			}
			it := r.Items[0]
			for i, v := range it.PID.Values {
				if got := v.Of(it.Data); math.Abs(got-c.want[i]) > 5e-5 {
					t.Errorf("%02X: %s = %v, want %v", c.pid, v.Name, got, c.want[i])
				}
			}
		}
	}
	// Rounded, the tables have 0.0000305 a bit for lambda and 0.000122 V a bit: the same within their digits.
	p, _ := obd.Lookup(0x24)
	one := p.Values[0].Scale.Over / p.Values[0].Scale.Under
	volt := p.Values[1].Scale.Over / p.Values[1].Scale.Under
	if math.Abs(one-0.0000305) > 5e-8 || math.Abs(volt-0.000122) > 5e-7 {
		t.Errorf("%v and %v a bit", one, volt)
	}
}

// Manifold pressure in one byte ends at 255 kPa absolute, where a boosted engine goes on: PIDs 70 and 87 reach 2047.97 kPa.
func TestManifoldPressureEnds(t *testing.T) {
	for _, c := range []struct {
		pid  byte
		data string
		at   int
		want float64
	}{{0x0B, "FF", 0, 255}, {0x33, "FF", 0, 255}, {0x70, "03FFFFFFFF0000000000", 1, 2047.96875}, {0x87, "01FFFF0000", 0, 2047.96875}, {0x74, "01FFFF0000", 0, 655350}} {
		b, err := hex.DecodeString(c.data)
		p, ok := obd.Lookup(c.pid)
		if err != nil || !ok {
			t.Fatalf("%02X: %v", c.pid, err)
		}
		if got := p.Values[c.at].Of(b); got != c.want {
			t.Errorf("%02X ends at %v, want %v", c.pid, got, c.want)
		}
	}
}

// What the published tables do not agree on is named, with the reading that was taken and how to take the other: the current of 34
// to 3B, boost of 70 (absolute or gauge), turbo speed of 74, the filter's difference of 7A and 7B, NOx of 83, and 8B from memory.
func TestDisputesAreNamed(t *testing.T) {
	for _, pid := range []byte{0x34, 0x3B, 0x70, 0x74, 0x7A, 0x7B, 0x83, 0x8B} {
		if p, ok := obd.Lookup(pid); !ok || p.Choice == "" {
			t.Errorf("%02X says nothing of its dispute", pid)
		}
	}
	p, _ := obd.Lookup(0x70)
	if p.Values[1].Ref != "" {
		t.Errorf("boost of PID 70 is said to be %s: no table settles it", p.Values[1].Ref)
	}
}
