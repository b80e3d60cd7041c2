package engine

import (
	"errors"
	"fmt"
	"math"
	"time"

	duck "github.com/duckdb/duckdb-go-bindings"
)

type argument struct {
	name  string
	value any
}

// bind gives one parameter its value: nil, a bool, a whole number, a float (NaN is NULL), a text or a time.
func bind(p duck.PreparedStatement, at duck.IdxT, v any) error {
	var state duck.State
	switch v := v.(type) {
	case nil:
		state = duck.BindNull(p, at)
	case bool:
		state = duck.BindBoolean(p, at, v)
	case int:
		state = duck.BindInt64(p, at, int64(v))
	case int32:
		state = duck.BindInt64(p, at, int64(v))
	case int64:
		state = duck.BindInt64(p, at, v)
	case float32:
		return bind(p, at, float64(v))
	case float64:
		if math.IsNaN(v) {
			return bind(p, at, nil)
		}
		state = duck.BindDouble(p, at, v)
	case string:
		state = duck.BindVarchar(p, at, v)
	case time.Time:
		state = duck.BindTimestampTZ(p, at, duck.NewTimestamp(v.UnixMicro()))
	default:
		return fmt.Errorf("a %T is no value that a statement can take", v)
	}
	if state == duck.StateError {
		return errors.New("the database does not take the value")
	}
	return nil
}
