package engine

import (
	"encoding/binary"
	"fmt"
	"math/big"
	"strings"
	"time"
	"unsafe"

	duck "github.com/duckdb/duckdb-go-bindings"

	"dynolake/queries/result"
)

// slots views a vector's memory as n values of a fixed size; it is valid as long as the vector.
func slots[T any](v duck.Vector, n int) []T {
	return unsafe.Slice((*T)(duck.VectorGetData(v)), n)
}

// each fills a column from a vector of fixed-size values, NULL where the vector's mask says so.
func each[T any](v duck.Vector, n int, value func(T) any) []any {
	out := make([]any, n)
	mask := (*uint64)(duck.VectorGetValidity(v))
	for i, x := range slots[T](v, n) {
		if isValid(mask, i) {
			out[i] = value(x)
		}
	}
	return out
}

// isValid reads a value's bit in a mask of one bit a value; without a mask there is no NULL.
func isValid(mask *uint64, i int) bool {
	return mask == nil || *(*uint64)(unsafe.Add(unsafe.Pointer(mask), i/64*8))&(1<<(i%64)) != 0
}

// read copies n values of a vector, as the Go types of the column's kind.
func (s *shape) read(v duck.Vector, n int) []any {
	if n == 0 {
		return nil
	}
	switch s.id {
	case duck.TypeBoolean:
		return each(v, n, func(x uint8) any { return x != 0 })
	case duck.TypeHugeInt:
		return each(v, n, func(x wide) any { return x.signed() })
	case duck.TypeUHugeInt:
		return each(v, n, func(x wide) any { return x.unsigned() })
	case duck.TypeFloat:
		return each(v, n, func(x float32) any { return x })
	case duck.TypeDouble:
		return each(v, n, func(x float64) any { return x })
	case duck.TypeDecimal:
		return s.readDecimal(v, n)
	case duck.TypeEnum:
		return s.readEnum(v, n)
	case duck.TypeVarchar:
		return readTexts(v, n)
	case duck.TypeBlob:
		return each(v, n, func(x packed) any { return []byte(strings.Clone(x.text())) })
	case duck.TypeUUID:
		return each(v, n, func(x wide) any { return x.uuid() })
	case duck.TypeList, duck.TypeArray, duck.TypeMap, duck.TypeStruct:
		return s.readNested(v, n)
	case duck.TypeSQLNull:
		return make([]any, n)
	}
	if s.kind == result.Time || s.kind == result.Date || s.kind == result.Text {
		return s.readTimes(v, n)
	}
	return s.readWhole(v, n)
}

// readWhole copies whole numbers of up to 64 bits.
func (s *shape) readWhole(v duck.Vector, n int) []any {
	switch s.id {
	case duck.TypeTinyInt:
		return each(v, n, func(x int8) any { return int64(x) })
	case duck.TypeSmallInt:
		return each(v, n, func(x int16) any { return int64(x) })
	case duck.TypeInteger:
		return each(v, n, func(x int32) any { return int64(x) })
	case duck.TypeBigInt:
		return each(v, n, func(x int64) any { return x })
	case duck.TypeUTinyInt:
		return each(v, n, func(x uint8) any { return int64(x) })
	case duck.TypeUSmallInt:
		return each(v, n, func(x uint16) any { return int64(x) })
	case duck.TypeUInteger:
		return each(v, n, func(x uint32) any { return int64(x) })
	}
	return each(v, n, func(x uint64) any { return new(big.Int).SetUint64(x) })
}

// readTimes copies instants, days, times of day and spans.
func (s *shape) readTimes(v duck.Vector, n int) []any {
	switch s.id {
	case duck.TypeTimestampS:
		return each(v, n, func(x int64) any { return time.Unix(x, 0).UTC() })
	case duck.TypeTimestampMS:
		return each(v, n, func(x int64) any { return time.UnixMilli(x).UTC() })
	case duck.TypeTimestampNS:
		return each(v, n, func(x int64) any { return time.Unix(0, x).UTC() })
	case duck.TypeDate:
		return each(v, n, func(x int32) any { return result.Day{Time: time.Unix(int64(x)*86400, 0).UTC()} })
	case duck.TypeTime:
		return each(v, n, func(x int64) any { return time.UnixMicro(x).UTC().Format("15:04:05.999999") })
	case duck.TypeInterval:
		return each(v, n, func(x span) any { return x.String() })
	}
	return each(v, n, func(x int64) any { return time.UnixMicro(x).UTC() })
}

// packed is a text: its length, then the text itself or where it is.
type packed [16]byte

// text views the text without copying it.
func (p *packed) text() string {
	const inline = 12
	n := binary.NativeEndian.Uint32(p[:4])
	if n <= inline {
		return unsafe.String(&p[4], n)
	}
	return unsafe.String(*(**byte)(unsafe.Pointer(&p[8])), n)
}

// readTexts copies texts; one that follows its like shares it.
func readTexts(v duck.Vector, n int) []any {
	var last string
	var held any = ""
	return each(v, n, func(x packed) any {
		if t := x.text(); t != last {
			last = strings.Clone(t)
			held = last
		}
		return held
	})
}

// wide is a whole number of 128 bits.
type wide struct{ low, high uint64 }

func (w wide) unsigned() *big.Int {
	n := new(big.Int).SetUint64(w.high)
	return n.Or(n.Lsh(n, 64), new(big.Int).SetUint64(w.low))
}

func (w wide) signed() *big.Int {
	n := w.unsigned()
	if w.high>>63 == 1 {
		n.Sub(n, new(big.Int).Lsh(big.NewInt(1), 128))
	}
	return n
}

// uuid writes the number's usual text; it is kept with its highest bit turned over, so that it sorts.
func (w wide) uuid() string {
	var b [16]byte
	binary.BigEndian.PutUint64(b[:8], w.high^1<<63)
	binary.BigEndian.PutUint64(b[8:], w.low)
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}

// span is an interval, in the parts that it is kept in.
type span struct {
	months, days int32
	micros       int64
}

func (s span) String() string {
	var parts []string
	if s.months != 0 {
		parts = append(parts, fmt.Sprintf("%d months", s.months))
	}
	if s.days != 0 {
		parts = append(parts, fmt.Sprintf("%d days", s.days))
	}
	if s.micros != 0 || len(parts) == 0 {
		parts = append(parts, (time.Duration(s.micros) * time.Microsecond).String())
	}
	return strings.Join(parts, " ")
}

func (s *shape) readDecimal(v duck.Vector, n int) []any {
	fixed := func(x int64) any { return result.Fixed{Unscaled: big.NewInt(x), Scale: s.scale} }
	switch s.stored {
	case duck.TypeSmallInt:
		return each(v, n, func(x int16) any { return fixed(int64(x)) })
	case duck.TypeInteger:
		return each(v, n, func(x int32) any { return fixed(int64(x)) })
	case duck.TypeBigInt:
		return each(v, n, fixed)
	}
	return each(v, n, func(x wide) any { return result.Fixed{Unscaled: x.signed(), Scale: s.scale} })
}

func (s *shape) readEnum(v duck.Vector, n int) []any {
	switch s.stored {
	case duck.TypeUTinyInt:
		return each(v, n, func(x uint8) any { return s.words[x] })
	case duck.TypeUSmallInt:
		return each(v, n, func(x uint16) any { return s.words[x] })
	}
	return each(v, n, func(x uint32) any { return s.words[x] })
}
