package mdf4

import "math"

// field is where a number stands in a record and how it is written.
type field struct {
	offset int
	bytes  int // That it touches, at most 9.
	shift  uint
	bits   uint
	big    bool
	signed bool
	float  bool
}

func newField(typ uint8, offset uint32, shift uint8, bits uint32) field {
	return field{offset: int(offset), bytes: int(uint32(shift)+bits+7) / 8, shift: uint(shift), bits: uint(bits), big: typ&1 == 1, signed: typ == 2 || typ == 3, float: typ == floatLittle || typ == floatBig}
}

// raw takes the field's bits out of a record: big-endian fields are reversed whole, then shifted.
func (f *field) raw(rec []byte) uint64 {
	b := rec[f.offset : f.offset+f.bytes]
	var lo, hi uint64
	for i := range b {
		c := b[i]
		at := i
		if f.big {
			at = len(b) - 1 - i
		}
		if at < 8 {
			lo |= uint64(c) << (8 * at)
		} else {
			hi = uint64(c)
		}
	}
	v := lo >> f.shift
	if f.shift > 0 {
		v |= hi << (64 - f.shift)
	}
	if f.bits < 64 {
		v &= 1<<f.bits - 1
	}
	return v
}

// value is the number that the field's bits mean.
func (f *field) value(v uint64) float64 {
	switch {
	case f.float && f.bits == 64:
		return math.Float64frombits(v)
	case f.float && f.bits == 32:
		return float64(math.Float32frombits(uint32(v)))
	case f.float:
		return half(uint16(v))
	case f.signed:
		up := 64 - f.bits
		return float64(int64(v<<up) >> up)
	}
	return float64(v)
}

// half is a 16-bit float as IEEE 754 has it.
func half(v uint16) float64 {
	sign, exp, frac := 1.0, int(v>>10&31), float64(v&1023)
	if v>>15 == 1 {
		sign = -1
	}
	switch exp {
	case 0:
		return sign * math.Ldexp(frac, -24)
	case 31:
		if frac != 0 {
			return math.NaN()
		}
		return sign * math.Inf(1)
	}
	return sign * math.Ldexp(1+frac/1024, exp-15)
}

// fill reads the field of consecutive records of stride bytes into v.
func (f *field) fill(v []float64, recs []byte, stride int) {
	if len(v) == 0 {
		return
	}
	b := recs[f.offset:]
	if f.shift != 0 || f.bits%8 != 0 || !f.quick(v, b, stride) {
		for i := range v {
			v[i] = f.value(f.raw(recs[i*stride:]))
		}
	}
}

// quick reads the usual layouts; it is false for any other.
func (f *field) quick(v []float64, b []byte, stride int) bool {
	switch {
	case f.bits == 8 && f.signed:
		each(v, b, stride, func(b []byte) float64 { return float64(int8(b[0])) })
	case f.bits == 8:
		each(v, b, stride, func(b []byte) float64 { return float64(b[0]) })
	case f.big:
		return false
	case f.float:
		return f.quickFloat(v, b, stride)
	}
	return f.bits == 8 || f.quickWhole(v, b, stride)
}

func (f *field) quickFloat(v []float64, b []byte, stride int) bool {
	switch f.bits {
	case 64:
		for i := range v {
			v[i] = math.Float64frombits(le.Uint64(b[i*stride:]))
		}
	case 32:
		for i := range v {
			v[i] = float64(math.Float32frombits(le.Uint32(b[i*stride:])))
		}
	default:
		return false
	}
	return true
}

func (f *field) quickWhole(v []float64, b []byte, stride int) bool {
	switch {
	case f.bits == 16 && f.signed:
		each(v, b, stride, func(b []byte) float64 { return float64(int16(le.Uint16(b))) })
	case f.bits == 16:
		each(v, b, stride, func(b []byte) float64 { return float64(le.Uint16(b)) })
	case f.bits == 32 && f.signed:
		each(v, b, stride, func(b []byte) float64 { return float64(int32(le.Uint32(b))) })
	case f.bits == 32:
		each(v, b, stride, func(b []byte) float64 { return float64(le.Uint32(b)) })
	case f.bits == 64 && f.signed:
		each(v, b, stride, func(b []byte) float64 { return float64(int64(le.Uint64(b))) })
	case f.bits == 64:
		each(v, b, stride, func(b []byte) float64 { return float64(le.Uint64(b)) })
	default:
		return false
	}
	return true
}

// each reads one number of every record.
func each(v []float64, b []byte, stride int, one func([]byte) float64) {
	for i := range v {
		v[i] = one(b[i*stride:])
	}
}
