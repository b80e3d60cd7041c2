package schema

import (
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// Unit is a unit of measurement as written beside a channel.
type Unit struct {
	Name      string    `json:"unit"`
	Quantity  string    `json:"quantity"`
	Factor    float64   `json:"factor"`
	Offset    float64   `json:"offset"`
	Spellings []string  `json:"spellings"`
	Reference Reference `json:"-"` // What the spelling itself said: psia is absolute, barg gauge.
}

var units = sync.OnceValue(func() map[string]Unit {
	m := map[string]Unit{}
	for _, u := range stated().Units {
		for _, s := range append(u.Spellings, u.Name) {
			m[foldUnit(s)] = u
		}
	}
	return m
})

var unitFolds = strings.NewReplacer(
	"â°", "deg", "\ufffd", "?", "˚", "deg", " per ", "/", "₂", "2",
	"℃", "degc", "℉", "degf", "°", "deg", "º", "deg", "²", "2", "³", "3", "µ", "u", "μ", "u", "⁻", "", "−", "", "¹", "1",
	" ", "", "\t", "", "\u00a0", "", "·", "", "⋅", "", "∙", "", "*", "", ".", "", "_", "", "-", "", "[", "", "]", "", "(", "", ")", "", "<", "", ">", "")

// foldUnit drops what does not tell units apart. A lone dash, which means "no unit", is kept.
func foldUnit(s string) string {
	s = strings.ToLower(strings.TrimSpace(s))
	if f := unitFolds.Replace(s); f != "" {
		return f
	}
	if strings.Contains(s, "-") {
		return "-"
	}
	return ""
}

// ParseUnit finds the unit that a spelling means, in any case and with or without brackets. A pressure may end in abs, a,
// gauge or g, which sets Reference. It is false for an empty or unknown spelling.
func ParseUnit(spelling string) (Unit, bool) {
	f := foldUnit(spelling)
	if u, ok := units()[f]; ok {
		return u, true
	}
	for _, end := range []struct {
		suffix string
		ref    Reference
	}{{"absolute", Absolute}, {"absolut", Absolute}, {"abs", Absolute}, {"gauge", Gauge}, {"gage", Gauge}, {"ü", Gauge}, {"a", Absolute}, {"g", Gauge}} {
		if base, ok := strings.CutSuffix(f, end.suffix); ok {
			if u, ok := units()[base]; ok && u.Quantity == "pressure" {
				u.Reference = end.ref
				return u, true
			}
		}
	}
	return Unit{}, false
}

// Convert gives x, in unit u, in unit to. An error names both units and both quantities when they differ in kind.
func (u Unit) Convert(x float64, to Unit) (float64, error) {
	if u.Quantity != to.Quantity {
		return 0, fmt.Errorf("convert %s (%s) to %s (%s): different quantities", u.Name, u.Quantity, to.Name, to.Quantity)
	}
	return (x*u.Factor + u.Offset - to.Offset) / to.Factor, nil
}

// ParseQuantity reads a number with an optional unit, such as "2.2 L", "34 psi" or "3500". Unit is the zero Unit without one.
func ParseQuantity(text string) (float64, Unit, error) {
	text = strings.TrimSpace(text)
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("+-.0123456789eE", r) })
	if end < 0 {
		end = len(text)
	}
	number, rest := text[:end], strings.TrimSpace(text[end:])
	x, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, Unit{}, fmt.Errorf("read quantity %q: want a number and a unit, such as 34 psi", text)
	}
	if rest == "" {
		return x, Unit{}, nil
	}
	u, ok := ParseUnit(rest)
	if !ok {
		return 0, Unit{}, fmt.Errorf("read quantity %q: unknown unit %q", text, rest)
	}
	return x, u, nil
}
