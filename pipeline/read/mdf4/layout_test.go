package mdf4_test

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// one is a file with a single value channel on a clock of 0, 1, 2 …, from records without their times.
func one(s shape, conv *node, dataBytes int, recs ...[]byte) []byte {
	var b []byte
	for i, r := range recs {
		b = append(append(b, f64(float64(i))...), r...)
	}
	s.offset += 8
	return image(410, 0, hd(dg(0, block("DT", b), cg("g", 1, len(recs), 8+dataBytes, 0, clock(), cn("x", "V", s, conv, nil)))))
}

// Every width at every bit offset in both byte orders and signs, against whole-number arithmetic on the same bytes.
func TestBitsAtEveryOffset(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for width := 1; width <= 64; width++ {
		for shift := 0; shift < 8; shift++ {
			for typ := 0; typ < 4; typ++ {
				n := (shift + width + 7) / 8
				rec := make([]byte, n+2)
				for i := range rec {
					rec[i] = byte(rng.Uint32())
				}
				l, _ := parse(t, one(shape{typ: typ, shift: shift, offset: 1, bits: width}, nil, len(rec), rec))
				if got, want := l.Series[0].Values[0][0], whole(rec[1:1+n], typ, shift, width); got != want {
					t.Fatalf("%d bits from bit %d of type %d in % x: %v, want %v", width, shift, typ, rec[1:1+n], got, want)
				}
			}
		}
	}
}

func whole(b []byte, typ, shift, width int) float64 {
	v := new(big.Int)
	for i := range b {
		c := b[i]
		if typ%2 == 0 {
			c = b[len(b)-1-i]
		}
		v.Or(v.Lsh(v, 8), big.NewInt(int64(c)))
	}
	v.Rsh(v, uint(shift))
	v.And(v, new(big.Int).Sub(new(big.Int).Lsh(big.NewInt(1), uint(width)), big.NewInt(1)))
	if typ >= 2 && v.Bit(width-1) == 1 {
		v.Sub(v, new(big.Int).Lsh(big.NewInt(1), uint(width)))
	}
	f, _ := new(big.Float).SetInt(v).Float64()
	return f
}

// The values of IEEE 754-2008 half precision: 1, -2, the largest, the smallest subnormal, 1/3 rounded.
func TestFloatsOfEveryWidth(t *testing.T) {
	for _, c := range []struct {
		typ, bits int
		raw       []byte
		want      float64
	}{
		{4, 16, []byte{0, 0x3c}, 1}, {5, 16, []byte{0xc0, 0}, -2}, {4, 16, []byte{0xff, 0x7b}, 65504}, {4, 16, []byte{1, 0}, 5.960464477539063e-08}, {5, 16, []byte{0x35, 0x55}, 0.333251953125},
		{4, 16, []byte{0, 0x7e}, math.NaN()}, {4, 16, []byte{0, 0x7c}, math.NaN()}, // An infinity is missing.
		{4, 32, []byte{0, 0, 0x80, 0x3f}, 1}, {5, 32, []byte{0x40, 0x49, 0x0f, 0xdb}, 3.1415927410125732}, {5, 64, []byte{0x40, 9, 0x21, 0xfb, 0x54, 0x44, 0x2d, 0x18}, math.Pi},
		{4, 64, f64(-0.1), -0.1}, {4, 64, f64(math.Inf(-1)), math.NaN()},
	} {
		l, _ := parse(t, one(shape{typ: c.typ, bits: c.bits}, nil, len(c.raw), c.raw))
		if got := l.Series[0].Values[0][0]; got != c.want && !(math.IsNaN(got) && math.IsNaN(c.want)) {
			t.Errorf("% x of type %d: %v, want %v", c.raw, c.typ, got, c.want)
		}
	}
}

func TestTextsOfEveryKind(t *testing.T) {
	sd := block("SD", bits(uint32(3), "abc", uint32(0), uint32(6), "d\x00e\x00\x00\x00", uint32(2), "\xe9!"))
	for _, c := range []struct {
		shape
		raw  []byte
		want string
	}{
		{shape{typ: 6, bits: 40}, []byte("\xd6l\x00xx"), "Öl"}, {shape{typ: 7, bits: 48}, []byte("Öl  \x00"), "Öl"}, {shape{typ: 8, bits: 64}, []byte("\xd6\x00l\x00\x00\x00x\x00"), "Öl"},
		{shape{typ: 9, bits: 64}, []byte("\x00\xd6\x00l\x00\x00\x00x"), "Öl"}, {shape{typ: 9, bits: 48}, []byte("\xfe\xff\x00\xd6\x00l"), "Öl"},
		{shape{kind: 1, typ: 7, bits: 64}, bits(uint64(0)), "abc"}, {shape{kind: 1, typ: 7, bits: 64}, bits(uint64(7)), ""}, {shape{kind: 1, typ: 8, bits: 32}, bits(uint32(11)), "de"},
		{shape{kind: 1, typ: 6, bits: 64}, bits(uint64(21)), "é!"},
	} {
		s := c.shape
		s.offset = 8
		b := append(f64(0), c.raw...)
		var data *node
		if c.kind == 1 {
			data = sd
		}
		l, codes := parse(t, image(410, 0, hd(dg(0, block("DT", b), cg("g", 1, 1, len(b), 0, clock(), cn("x", "", s, nil, data))))))
		got := ""
		if len(l.Series[0].Texts) > 0 {
			got = l.Series[0].Texts[0].Text
		}
		if got != c.want || len(codes) > 0 || !math.IsNaN(l.Series[0].Values[0][0]) {
			t.Errorf("%+v: %q, want %q; findings %v", c.shape, got, c.want, codes)
		}
	}
}

// A text whose length stands in another channel of the record.
func TestTextOfLimitedLength(t *testing.T) {
	size := cn("n", "", shape{offset: 8, bits: 8}, nil, nil)
	b := append(append(f64(0), "\x02abcd"...), append(f64(1), "\x09abcd"...)...)
	l, _ := parse(t, image(410, 0, hd(dg(0, block("DT", b), cg("g", 1, 2, 13, 0, clock(), size, cn("x", "", shape{kind: 5, typ: 7, offset: 9, bits: 32}, nil, size))))))
	if x := l.Series[0].Texts; len(x) != 2 || x[0].Text != "ab" || x[1].Text != "abcd" {
		t.Errorf("%+v", x)
	}
}

func TestInvalidationBits(t *testing.T) {
	var b []byte
	for i := range 8 {
		b = append(append(append(b, f64(float64(i))...), byte(i)), byte(i), byte(255-i))
	}
	channels := []*node{clock()}
	for bit := range 16 {
		channels = append(channels, cn(fmt.Sprint(bit), "", shape{offset: 8, bits: 8, flags: 2, validBit: bit}, nil, nil))
	}
	channels = append(channels, cn("all", "", shape{offset: 8, bits: 8, flags: 1}, nil, nil), cn("outside", "", shape{offset: 8, bits: 8, flags: 2, validBit: 16}, nil, nil))
	l, codes := parse(t, image(410, 0, hd(dg(0, block("DT", b), cg("g", 1, 8, 9, 2, channels...)))))
	s := l.Series[0]
	if len(s.Channels) != 17 || codes["channel_set_aside"] != 1 {
		t.Fatalf("%d channels, %v", len(s.Channels), codes)
	}
	for bit := range 16 {
		for i, v := range s.Values[bit] {
			set := i>>bit&1 == 1
			if bit >= 8 {
				set = (255-i)>>(bit-8)&1 == 1
			}
			if math.IsNaN(v) != set || !set && v != float64(i) {
				t.Errorf("bit %d, row %d: %v", bit, i, v)
			}
		}
	}
	for _, v := range s.Values[16] {
		if !math.IsNaN(v) {
			t.Errorf("%v where all are marked invalid", v)
		}
	}
}

// A clock that is a formula of the row number, and one in another unit.
func TestClocks(t *testing.T) {
	virtual := cn("t", "s", shape{kind: 3, sync: 1}, cc(1, nil, 5, 0.25), nil)
	l, _ := parse(t, image(410, 0, hd(dg(0, block("DT", []byte{7, 8, 9}), cg("g", 1, 3, 1, 0, virtual, cn("x", "", shape{bits: 8}, nil, nil))))))
	if s := l.Series[0]; fmt.Sprint(s.T) != "[5 5.25 5.5]" || fmt.Sprint(s.Values[0]) != "[7 8 9]" || s.Clock.Step != 0.25 {
		t.Errorf("%+v", s)
	}
	ms := cn("t", "ms", shape{kind: 2, sync: 1, bits: 16}, nil, nil)
	l, codes := parse(t, image(410, 0, hd(dg(0, block("DT", bits(uint16(1500), 1, uint16(3000), 2)), cg("g", 1, 2, 3, 0, ms, cn("x", "", shape{offset: 2, bits: 8}, nil, nil))))))
	if s := l.Series[0]; fmt.Sprint(s.T) != "[1.5 3]" || s.Clock.Unit != "ms" || codes["clock_unit"] != 1 {
		t.Errorf("%+v %v", s, codes)
	}
}
