package lake

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
)

// null tells whether a cell is stored as NULL.
func null(v any) bool {
	switch x := v.(type) {
	case nil:
		return true
	case string:
		return x == ""
	case float64:
		return math.IsNaN(x)
	case time.Time:
		return x.IsZero()
	}
	return false
}

// infinite finds what a column's type cannot hold.
func infinite(v any, kind string) (float64, bool) {
	x, ok := v.(float64)
	return x, ok && outside(x, kind)
}

// outside reports whether a number is more than a column's type holds. NaN is not.
func outside(x float64, kind string) bool {
	limit := math.MaxFloat64
	switch kind {
	case "float32":
		limit = math.MaxFloat32
	case "int32":
		limit = math.MaxInt32
	case "int64":
		limit = 1 << 62
	}
	return math.Abs(x) > limit
}

// push appends a cell to the builder of its column.
func push(b array.Builder, v any) {
	if null(v) {
		b.AppendNull()
		return
	}
	switch b := b.(type) {
	case *array.StringBuilder:
		b.Append(strings.ToValidUTF8(v.(string), "\uFFFD")) // Readers refuse a file for one byte that is none.
	case *array.Float32Builder:
		b.Append(float32(v.(float64)))
	case *array.Float64Builder:
		b.Append(v.(float64))
	case *array.Int32Builder:
		b.Append(int32(whole(v)))
	case *array.Int64Builder:
		b.Append(whole(v))
	case *array.BooleanBuilder:
		b.Append(v.(float64) >= 0.5)
	case *array.TimestampBuilder:
		b.Append(arrow.Timestamp(v.(time.Time).UnixMicro()))
	case *array.ListBuilder:
		pushList(b, v)
	default:
		panic(fmt.Sprintf("lake: no way to store %T", b)) // A table column of a type that arrowType does not make.
	}
}

func pushList(b *array.ListBuilder, v any) {
	b.Append(true)
	switch list := v.(type) {
	case []float64:
		for _, x := range list {
			push(b.ValueBuilder(), x)
		}
	case []string:
		for _, x := range list {
			push(b.ValueBuilder(), x)
		}
	}
}

// whole gives a count or a state as an integer.
func whole(v any) int64 {
	switch x := v.(type) {
	case int64:
		return x
	case float64:
		return int64(math.Round(x))
	}
	panic(fmt.Sprintf("lake: no whole number: %T", v))
}
