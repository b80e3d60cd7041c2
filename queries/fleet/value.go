package fleet

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
	"time"

	"dynolake/queries/result"
)

// value reads a cell as a value of the column's kind.
func value(c result.Column, cell string) (any, error) {
	if cell == `\N` {
		return nil, nil //nolint:nilnil // NULL is nil.
	}
	switch c.Kind {
	case result.Bool:
		switch cell {
		case "true", "1":
			return true, nil
		case "false", "0":
			return false, nil
		}
		return nil, unfit(cell, "a truth value")
	case result.Int:
		if n, err := strconv.ParseInt(cell, 10, 64); err == nil {
			return n, nil
		}
		return whole(cell)
	case result.Big:
		if n, ok := new(big.Int).SetString(cell, 10); ok {
			return n, nil
		}
		return nil, unfit(cell, "a whole number")
	case result.Float32:
		x, err := strconv.ParseFloat(cell, 32)
		if err != nil {
			return nil, unfit(cell, "a number")
		}
		return float32(x), nil
	case result.Float64:
		x, err := strconv.ParseFloat(cell, 64)
		if err != nil {
			return nil, unfit(cell, "a number")
		}
		return x, nil
	case result.Decimal:
		return decimal(cell, c.Scale)
	case result.Time:
		return instant(cell)
	case result.Date:
		day, err := time.Parse(time.DateOnly, cell[:min(len(cell), len(time.DateOnly))])
		if err != nil {
			return nil, unfit(cell, "a day")
		}
		return result.Day{Time: day}, nil
	case result.Bytes:
		return []byte(plain(cell)), nil
	case result.Nested:
		return nested(cell)
	}
	return plain(cell), nil
}

func unfit(cell, want string) error { return fmt.Errorf("found %.200q, want %s", cell, want) }

// whole reads a whole number that the engine reckoned as a float.
func whole(cell string) (any, error) {
	x, err := strconv.ParseFloat(cell, 64)
	if n := int64(x); err == nil && float64(n) == x {
		return n, nil
	}
	return nil, unfit(cell, "a whole number of at most 64 bits")
}

// decimal reads a number as one of so many digits after the point.
func decimal(cell string, scale int) (any, error) {
	r, ok := new(big.Rat).SetString(cell)
	if !ok {
		return nil, unfit(cell, "a decimal number")
	}
	n, ok := new(big.Int).SetString(strings.Replace(r.FloatString(scale), ".", "", 1), 10)
	if !ok {
		return nil, unfit(cell, "a decimal number")
	}
	return result.Fixed{Unscaled: n, Scale: scale}, nil
}

// instant reads a time in UTC with as many digits of a second as there are.
func instant(cell string) (any, error) {
	for _, form := range []string{time.DateTime, time.DateOnly} {
		if t, err := time.Parse(form, cell); err == nil {
			return t, nil
		}
	}
	return nil, unfit(cell, "a time")
}

// escapes are the letters that stand behind a backslash for what would end a cell or a line.
var escapes = strings.NewReplacer(`\\`, `\`, `\t`, "\t", `\n`, "\n", `\r`, "\r", `\0`, "\x00", `\b`, "\b", `\f`, "\f", `\'`, "'")

// plain is a cell's text.
func plain(cell string) string {
	if !strings.Contains(cell, `\`) {
		return cell
	}
	return escapes.Replace(cell)
}
