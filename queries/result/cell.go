package result

import (
	"math"
	"math/big"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// null is what people see where there is no value.
const null = "–"

// cell writes a value for people: rounded, converted, with nothing in it that a terminal would obey.
func (s style) cell(v any) string {
	switch v := v.(type) {
	case nil:
		return null
	case float32:
		return s.number(float64(v), 32)
	case float64:
		return s.number(v, 64)
	case Fixed:
		if s.decimals < 0 {
			return v.String()
		}
		return s.number(v.Float64(), 64)
	case *big.Int:
		return v.String()
	case int64:
		if s.converted {
			return s.number(float64(v), 64)
		}
		return strconv.FormatInt(v, 10)
	case time.Time:
		return v.UTC().Format("2006-01-02 15:04:05.999Z")
	case Day:
		return v.String()
	case string:
		return Harmless(v)
	}
	return Harmless(strings.Trim(string(appendJSON(nil, v)), `"`))
}

// lines is cell, with a text's own lines kept.
func (s style) lines(v any) string {
	text, ok := v.(string)
	if !ok {
		return s.cell(v)
	}
	list := strings.Split(strings.ReplaceAll(strings.TrimRight(text, "\r\n"), "\r\n", "\n"), "\n")
	for i, line := range list {
		list[i] = Harmless(line)
	}
	return strings.Join(list, "\n")
}

func (s style) number(x float64, bits int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return null
	}
	x = x*s.scale + s.offset
	if s.decimals < 0 || (x != 0 && math.Abs(x) >= 1e15) {
		return significant(x, bits)
	}
	return positiveZero(strconv.FormatFloat(x, 'f', s.decimals, 64))
}

// significant writes up to six significant digits, without an exponent where the number is of a common size.
func significant(x float64, bits int) string {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 5, bits), 64)
	if err != nil {
		r = x
	}
	return string(appendNumber(nil, r, 64))
}

func positiveZero(s string) string {
	if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
		return s[1:]
	}
	return s
}

// Harmless makes a text safe to print on a terminal: control characters, escapes and marks that turn the direction of writing
// are shown as visible signs, bytes that are no UTF-8 as U+FFFD.
func Harmless(s string) string { return strings.Map(obeyed, s) }

// obeyed gives the sign to show in place of a character that a terminal would obey, and every other one as it is.
func obeyed(r rune) rune {
	switch {
	case r < ' ':
		return '␀' + r // The control pictures, in the order of the controls.
	case r < 0x7f:
		return r
	case r == 0x7f:
		return '␡'
	case r == unicode.ReplacementChar, unicode.IsControl(r), unicode.In(r, unicode.Bidi_Control, unicode.Zl, unicode.Zp):
		return unicode.ReplacementChar
	}
	return r
}
