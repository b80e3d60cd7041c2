package engine

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
	"time"

	"github.com/duckdb/duckdb-go/v2"

	"dynolake/queries/result"
)

// columnOf finds the kind that a column of the given SQL type has in a result.
func columnOf(name, sqlType string) result.Column {
	c := result.Column{Name: name, SQL: sqlType}
	base, rest, _ := strings.Cut(sqlType, "(")
	switch base {
	case "BOOLEAN":
		c.Kind = result.Bool
	case "TINYINT", "SMALLINT", "INTEGER", "BIGINT", "UTINYINT", "USMALLINT", "UINTEGER":
		c.Kind = result.Int
	case "UBIGINT", "HUGEINT", "UHUGEINT", "BIGNUM":
		c.Kind = result.Big
	case "FLOAT":
		c.Kind = result.Float32
	case "DOUBLE":
		c.Kind = result.Float64
	case "DATE":
		c.Kind = result.Date
	case "BLOB":
		c.Kind = result.Bytes
	case "DECIMAL":
		c.Kind = result.Decimal
		_, scale, _ := strings.Cut(strings.TrimSuffix(rest, ")"), ",")
		c.Scale, _ = strconv.Atoi(strings.TrimSpace(scale)) // The driver writes every DECIMAL with its scale.
	case "STRUCT", "MAP", "UNION", "JSON":
		c.Kind = result.Nested
	}
	switch {
	case strings.HasSuffix(sqlType, "]"):
		c.Kind = result.Nested
	case strings.HasPrefix(sqlType, "TIMESTAMP"):
		c.Kind = result.Time
	}
	return c
}

// valueOf brings a driver's value to the type of its column's kind.
func valueOf(c result.Column, v any) any {
	if v == nil {
		return nil
	}
	v = plain(v)
	switch c.Kind {
	case result.Date:
		if t, ok := v.(time.Time); ok {
			return result.Day{Time: t}
		}
	case result.Big:
		if n, ok := v.(int64); ok {
			return big.NewInt(n)
		}
	case result.Text:
		return textOf(c.SQL, v)
	}
	return v
}

// textOf writes what has no kind of its own: times of day, intervals, identifiers.
func textOf(sqlType string, v any) string {
	switch v := v.(type) {
	case string:
		return v
	case time.Time:
		return v.Format("15:04:05.999999")
	case []byte:
		if len(v) == 16 && sqlType == "UUID" {
			return fmt.Sprintf("%x-%x-%x-%x-%x", v[:4], v[4:6], v[6:8], v[8:10], v[10:])
		}
		return fmt.Sprintf("%x", v)
	}
	return fmt.Sprint(v)
}

// plain brings whole numbers to int64 or *big.Int and structures to lists and maps.
func plain(v any) any {
	switch v := v.(type) {
	case int8:
		return int64(v)
	case int16:
		return int64(v)
	case int32:
		return int64(v)
	case uint8:
		return int64(v)
	case uint16:
		return int64(v)
	case uint32:
		return int64(v)
	case uint64:
		return new(big.Int).SetUint64(v)
	case duckdb.Decimal:
		return result.Fixed{Unscaled: v.Value, Scale: int(v.Scale)}
	case duckdb.Interval:
		return interval(v)
	case []any:
		list := make([]any, len(v))
		for i, e := range v {
			list[i] = plain(e)
		}
		return list
	case map[string]any:
		m := make(map[string]any, len(v))
		for k, e := range v {
			m[k] = plain(e)
		}
		return m
	case duckdb.OrderedMap:
		m := make(map[string]any, v.Len())
		values := v.Values()
		for i, k := range v.Keys() {
			m[fmt.Sprint(plain(k))] = plain(values[i])
		}
		return m
	case duckdb.Union:
		return plain(v.Value)
	}
	return v
}

// interval writes a span as the parts that it is kept in.
func interval(i duckdb.Interval) string {
	var parts []string
	if i.Months != 0 {
		parts = append(parts, fmt.Sprintf("%d months", i.Months))
	}
	if i.Days != 0 {
		parts = append(parts, fmt.Sprintf("%d days", i.Days))
	}
	if i.Micros != 0 || len(parts) == 0 {
		parts = append(parts, (time.Duration(i.Micros) * time.Microsecond).String())
	}
	return strings.Join(parts, " ")
}
