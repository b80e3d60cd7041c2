package mdf4

import (
	"math"
	"math/bits"
)

const (
	infinite32 = 0x7F800000 // The bits of an infinity without its sign.
	infinite64 = 0x7FF0000000000000
)

// odd64 has its top bit set where the bits of a float64 are those of an infinity.
func odd64(u uint64) uint64 { return (u&^(1<<63) ^ infinite64) - 1 }

// odd32 is odd64 of a float32.
func odd32(u uint32) uint32 { return (u&^(1<<31) ^ infinite32) - 1 }

func float32s(v []float64, b []byte, stride int, l linear) uint64 {
	var odd uint32
	o := 0
	for i := range v {
		u := le.Uint32(b[o : o+4 : o+4])
		o += stride
		odd |= odd32(u)
		v[i] = float64(l.b*float64(math.Float32frombits(u))) + l.a
	}
	return uint64(odd >> 31)
}

func bigFloat32(v []float64, b []byte, stride int, l linear) uint64 {
	var odd uint32
	o := 0
	for i := range v {
		u := be.Uint32(b[o : o+4 : o+4])
		o += stride
		odd |= odd32(u)
		v[i] = float64(l.b*float64(math.Float32frombits(u))) + l.a
	}
	return uint64(odd >> 31)
}

func float64s(v []float64, b []byte, stride int, l linear) uint64 {
	var odd uint64
	o := 0
	for i := range v {
		x := float64(l.b*math.Float64frombits(le.Uint64(b[o:o+8:o+8]))) + l.a
		o += stride
		odd |= odd64(math.Float64bits(x))
		v[i] = x
	}
	return odd >> 63
}

func bigFloat64(v []float64, b []byte, stride int, l linear) uint64 {
	var odd uint64
	o := 0
	for i := range v {
		x := float64(l.b*math.Float64frombits(be.Uint64(b[o:o+8:o+8]))) + l.a
		o += stride
		odd |= odd64(math.Float64bits(x))
		v[i] = x
	}
	return odd >> 63
}

// large is 1 for a number without a sign beyond 2^53 by more than rounding takes away.
func large(u uint64) uint64 {
	_, more := bits.Sub64(exact+1, u, 0)
	return more
}

// size is a number without its sign.
func size(x int64) uint64 { return uint64((x ^ x>>63) - x>>63) }

func unsigned64(v []float64, b []byte, stride int, l linear) (odd uint64) {
	for i := range v {
		u := le.Uint64(b[i*stride:])
		odd += large(u)
		v[i] = float64(l.b*float64(u)) + l.a
	}
	return odd
}

func bigUnsigned64(v []float64, b []byte, stride int, l linear) (odd uint64) {
	for i := range v {
		u := be.Uint64(b[i*stride:])
		odd += large(u)
		v[i] = float64(l.b*float64(u)) + l.a
	}
	return odd
}

func signed64(v []float64, b []byte, stride int, l linear) (odd uint64) {
	for i := range v {
		x := int64(le.Uint64(b[i*stride:]))
		odd += large(size(x))
		v[i] = float64(l.b*float64(x)) + l.a
	}
	return odd
}

func bigSigned64(v []float64, b []byte, stride int, l linear) (odd uint64) {
	for i := range v {
		x := int64(be.Uint64(b[i*stride:]))
		odd += large(size(x))
		v[i] = float64(l.b*float64(x)) + l.a
	}
	return odd
}
