package mdf4

import "math"

// gather reads a number of every record of stride bytes, which stands at the beginning of b, and turns it by a line, all at one
// go. It counts the whole numbers beyond those of which a float64 holds all; of floats it is above 0 where one is infinite.
type gather func(v []float64, b []byte, stride int, l linear) (odd uint64)

// straight is the line that leaves numbers as they are, -0 too.
var straight = linear{a: math.Copysign(0, -1), b: 1}

// line is what a channel's numbers are turned by. It is false for other conversions, and where a whole number could become
// infinite.
func (c *channel) line() (linear, bool) {
	const most = 1e200
	switch conv := c.conv.(type) {
	case nil:
		return straight, true
	case linear:
		if conv.a == 0 { // As in linear.all.
			conv.a = straight.a
		}
		return conv, math.Abs(conv.a) < most && math.Abs(conv.b) < most
	}
	return linear{}, false
}

// gather finds the way for a channel that has one: whole bytes in either order.
func (c *channel) gather() gather {
	if _, ok := c.line(); !ok || c.virtual() || c.text() || c.flags&allInvalid != 0 || c.field.shift != 0 {
		return nil
	}
	f := &c.field
	switch {
	case f.bits == 8 && f.signed:
		return signed8
	case f.bits == 8:
		return unsigned8
	case f.float && f.big:
		return map[uint]gather{32: bigFloat32, 64: bigFloat64}[f.bits]
	case f.float:
		return map[uint]gather{32: float32s, 64: float64s}[f.bits]
	case f.signed && f.big:
		return map[uint]gather{16: bigSigned16, 32: bigSigned32, 64: bigSigned64}[f.bits]
	case f.signed:
		return map[uint]gather{16: signed16, 32: signed32, 64: signed64}[f.bits]
	case f.big:
		return map[uint]gather{16: bigUnsigned16, 32: bigUnsigned32, 64: bigUnsigned64}[f.bits]
	}
	return map[uint]gather{16: unsigned16, 32: unsigned32, 64: unsigned64}[f.bits]
}

// small reads whole numbers that a float64 always holds. It is compiled into each of those that call it.
func small(v []float64, b []byte, stride, width int, l linear, one func([]byte) float64) uint64 {
	for i := range v {
		v[i] = float64(l.b*one(b[i*stride:][:width:width])) + l.a
	}
	return 0
}

func unsigned8(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 1, l, func(b []byte) float64 { return float64(b[0]) })
}

func signed8(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 1, l, func(b []byte) float64 { return float64(int8(b[0])) })
}

func unsigned16(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 2, l, func(b []byte) float64 { return float64(le.Uint16(b)) })
}

func signed16(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 2, l, func(b []byte) float64 { return float64(int16(le.Uint16(b))) })
}

func unsigned32(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 4, l, func(b []byte) float64 { return float64(le.Uint32(b)) })
}

func signed32(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 4, l, func(b []byte) float64 { return float64(int32(le.Uint32(b))) })
}

func bigUnsigned16(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 2, l, func(b []byte) float64 { return float64(be.Uint16(b)) })
}

func bigSigned16(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 2, l, func(b []byte) float64 { return float64(int16(be.Uint16(b))) })
}

func bigUnsigned32(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 4, l, func(b []byte) float64 { return float64(be.Uint32(b)) })
}

func bigSigned32(v []float64, b []byte, stride int, l linear) uint64 {
	return small(v, b, stride, 4, l, func(b []byte) float64 { return float64(int32(be.Uint32(b))) })
}
