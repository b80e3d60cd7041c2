package mdf4

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Numbers that are gathered at one go are those that are read, turned and looked at one after the other, to the last bit.
func TestGatherEqualsSteps(t *testing.T) {
	const rows, stride, offset = 40, 21, 5
	rng := rand.New(rand.NewPCG(8, 9))
	conversions := []conversion{nil, linear{-40, 0.25}, linear{0, 3}, linear{math.Copysign(0, -1), -1e-3}, linear{1, 0}, linear{2, 1e199}}
	taken, left := 0, 0
	for typ := range uint8(6) {
		for _, bits := range []uint32{8, 16, 32, 64} {
			for range 300 {
				c := &channel{typ: typ, bits: bits, offset: offset, conv: conversions[rng.IntN(len(conversions))]}
				c.field = newField(typ, offset, 0, bits)
				recs := invented(rng, rows*stride)
				take := c.gather()
				if take == nil {
					if bits != 16 && bits != 8 || !c.float() {
						t.Fatalf("type %d of %d bits: nothing gathers it", typ, bits)
					}
					continue
				}
				turn, _ := c.line()
				got, want := make([]float64, rows), make([]float64, rows)
				c.field.fill(want, recs, stride)
				large, infinite := uint64(0), false
				for _, x := range want {
					if !c.float() && math.Abs(x) > exact {
						large++
					}
				}
				convertAll(c.conv, want, nil)
				for _, x := range want {
					infinite = infinite || math.IsInf(x, 0)
				}
				odd := take(got, recs[offset:], stride, turn)
				if !c.float() && odd != large || infinite && odd == 0 {
					t.Fatalf("type %d of %d bits: %d are odd in %v, %d are large", typ, bits, odd, want, large)
				}
				if odd > 0 {
					left++
				}
				if odd > 0 && c.float() {
					continue
				}
				taken++
				for i := range got {
					if math.Float64bits(got[i]) != math.Float64bits(want[i]) && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
						t.Fatalf("type %d of %d bits by %v: %v, want %v", typ, bits, c.conv, got[i], want[i])
					}
				}
			}
		}
	}
	if taken < 3000 || left < 300 {
		t.Errorf("%d taken and %d left: too few of either", taken, left)
	}
}

// invented is bytes, of some kinds: any, many of all ones or zeros, small numbers in either order.
func invented(rng *rand.Rand, n int) []byte {
	b := make([]byte, n)
	kind := rng.IntN(4)
	for i := range b {
		switch {
		case kind == 0 || kind == 1 && rng.IntN(3) == 0:
			b[i] = byte(rng.Uint32())
		case kind == 1:
			b[i] = []byte{0, 0x7f, 0x80, 0xf0, 0xff}[rng.IntN(5)]
		case kind == 2 && i%5 == 0:
			b[i] = byte(rng.IntN(20))
		}
	}
	return b
}

func TestGatherLeavesTheRest(t *testing.T) {
	for what, c := range map[string]*channel{
		"a half":               {typ: floatLittle, bits: 16},
		"twelve bits":          {bits: 12},
		"a shift":              {bits: 16, shift: 1},
		"a text":               {typ: textLatin, bits: 32},
		"a virtual channel":    {bits: 32, kind: virtualData},
		"nothing valid":        {bits: 32, flags: allInvalid},
		"a table":              {bits: 16, conv: points{}},
		"a line beyond bounds": {bits: 16, conv: linear{0, 1e300}},
	} {
		if c.field = newField(c.typ, 0, c.shift, c.bits); c.gather() != nil {
			t.Errorf("%s is gathered", what)
		}
	}
}
