package columnar

import (
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
)

// cells are the values of one column in a batch; empty where the batch has none. They belong to the record that is read.
type cells struct {
	arr   arrow.Array
	outer []arrow.Array // The structures that it lies in.
	lo    int           // Of the array, where the batch begins.
}

// missing reports whether a cell of the array holds nothing; i counts from the array's beginning.
func (c cells) missing(i int) bool {
	if c.arr == nil || i >= c.arr.Len() || c.arr.IsNull(i) {
		return true
	}
	for _, o := range c.outer {
		if o.IsNull(i) {
			return true
		}
	}
	return false
}

// seconds in one tick of a time type.
func tick(u arrow.TimeUnit) float64 { return u.Multiplier().Seconds() }

// whole gives a cell that counts something in whole numbers.
func (c cells) whole(i int) (int64, bool) {
	i += c.lo
	if c.missing(i) {
		return 0, false
	}
	switch a := c.arr.(type) {
	case *array.Int64:
		return a.Value(i), true
	case *array.Uint64:
		return int64(a.Value(i)), a.Value(i) <= math.MaxInt64
	case *array.Int32:
		return int64(a.Value(i)), true
	case *array.Uint32:
		return int64(a.Value(i)), true
	case *array.Int16:
		return int64(a.Value(i)), true
	case *array.Uint16:
		return int64(a.Value(i)), true
	case *array.Int8:
		return int64(a.Value(i)), true
	case *array.Uint8:
		return int64(a.Value(i)), true
	case *array.Timestamp:
		return int64(a.Value(i)), true
	case *array.Time32:
		return int64(a.Value(i)), true
	case *array.Time64:
		return int64(a.Value(i)), true
	case *array.Duration:
		return int64(a.Value(i)), true
	case *array.Date32:
		return int64(a.Value(i)), true
	case *array.Date64:
		return int64(a.Value(i)), true
	}
	return 0, false
}

// read gives a cell's number, or its text where it is none. Times become seconds, points in time texts.
func (c cells) read(row int) (float64, string) {
	i := c.lo + row
	if c.missing(i) {
		return math.NaN(), ""
	}
	switch a := c.arr.(type) {
	case *array.Float64:
		return a.Value(i), ""
	case *array.Float32:
		return float64(a.Value(i)), ""
	case *array.Float16:
		return float64(a.Value(i).Float32()), ""
	case *array.Boolean:
		if a.Value(i) {
			return 1, ""
		}
		return 0, ""
	case *array.Uint64:
		return float64(a.Value(i)), ""
	case *array.Decimal128:
		return a.Value(i).ToFloat64(a.DataType().(*arrow.Decimal128Type).Scale), ""
	case *array.Decimal256:
		return a.Value(i).ToFloat64(a.DataType().(*arrow.Decimal256Type).Scale), ""
	case *array.Timestamp:
		return math.NaN(), a.Value(i).ToTime(a.DataType().(*arrow.TimestampType).Unit).Format(time.RFC3339Nano)
	case *array.Date32:
		return math.NaN(), a.Value(i).FormattedString()
	case *array.Date64:
		return math.NaN(), a.Value(i).FormattedString()
	case *array.Time32:
		return float64(a.Value(i)) * tick(a.DataType().(*arrow.Time32Type).Unit), ""
	case *array.Time64:
		return float64(a.Value(i)) * tick(a.DataType().(*arrow.Time64Type).Unit), ""
	case *array.Duration:
		return float64(a.Value(i)) * tick(a.DataType().(*arrow.DurationType).Unit), ""
	case *array.Dictionary:
		return cells{arr: a.Dictionary()}.read(a.GetValueIndex(i))
	}
	if n, ok := c.whole(row); ok {
		return float64(n), ""
	}
	return number(c.arr.ValueStr(i))
}

// number reads a text that is one; what says that nothing was logged is missing.
func number(s string) (float64, string) {
	s = strings.ToValidUTF8(strings.TrimSpace(s), "\uFFFD")
	switch strings.ToLower(s) {
	case "", "nan", "null", "none", "na", "n/a", "-":
		return math.NaN(), ""
	}
	if v, err := strconv.ParseFloat(s, 64); err == nil && !strings.ContainsAny(s, "xX_") {
		return v, ""
	}
	return math.NaN(), s
}
