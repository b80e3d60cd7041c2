package result

import (
	"fmt"
	"slices"
	"strings"

	"dynolake/schema"
)

// Units is a system of units for people.
type Units string

// The systems; the zero Units is Metric, which is what is stored.
const (
	Metric Units = "metric"
	US     Units = "us"
)

// ParseUnits finds a system by its name.
func ParseUnits(name string) (Units, error) {
	switch u := Units(strings.ToLower(strings.TrimSpace(name))); u {
	case Metric, US:
		return u, nil
	}
	return "", fmt.Errorf("read units %q: want metric or us", name)
}

// measure says how one unit is shown: the suffix that names carry for it, its decimals, and the same in US units.
type measure struct {
	unit, suffix string
	decimals     int
	us, usSuffix string
	usDecimals   int
}

// measures has longer suffixes first: _kg_h is no _h.
func measures() []measure {
	return []measure{
		{"g/kWh", "g_kwh", 1, "lb/hp-h", "lb_hph", 4},
		{"kg/h", "kg_h", 2, "lb/h", "lb_h", 2},
		{"kg/s", "kg_s", 4, "lb/min", "lb_min", 2},
		{"g/s", "g_s", 2, "lb/min", "lb_min", 2},
		{"kPa", "kpa", 2, "psi", "psi", 2},
		{"°C", "c", 1, "°F", "f", 1},
		{"N·m", "nm", 1, "lb-ft", "lb_ft", 1},
		{"kW", "kw", 1, "hp", "hp", 1},
		{"km/h", "kmh", 1, "mph", "mph", 1},
		{"rpm", "rpm", 0, "", "", 0},
		{"%", "pct", 1, "", "", 0},
		{"kg", "kg", 1, "lb", "lb", 1},
		{"mg", "mg", 2, "", "", 0},
		{"mm", "mm", 1, "in", "in", 3},
		{"1", "ratio", 3, "", "", 0},
		{"1", "frac", 3, "", "", 0},
		{"°", "deg", 1, "", "", 0},
		{"N", "n", 1, "lbf", "lbf", 1},
		{"m", "m", 3, "ft", "ft", 3},
		{"s", "s", 2, "", "", 0},
		{"V", "v", 2, "", "", 0},
		{"g", "g", 2, "", "", 0},
	}
}

// statistics are endings and beginnings that leave a column's unit as it is.
func statistics() []string {
	return []string{"p05", "p50", "p95", "mean", "median", "min", "max", "lo95", "hi95", "sd", "se", "iqr", "base", "candidate", "delta"}
}

// style is how a column is shown to people.
type style struct {
	head     string
	decimals int // Below 0: by significant digits.
	right    bool

	converted     bool
	scale, offset float64 // shown = stored*scale + offset.
}

func styles(columns []Column, o Options) []style {
	list := make([]style, len(columns))
	for i, c := range columns {
		list[i] = styleOf(c, o)
	}
	return list
}

func styleOf(c Column, o Options) style {
	s := style{head: c.Name, decimals: -1, scale: 1}
	whole := c.Kind == Int || c.Kind == Big
	s.right = whole || c.Kind == Float32 || c.Kind == Float64 || c.Kind == Decimal
	if !s.right {
		return s
	}
	if known, ok := schema.Lookup(c.Name); ok {
		s.decimals = known.Decimals
	}
	m, difference, ok := measureOf(c.Name, o.Declared[c.Name])
	if !ok || (whole && len(m.suffix) == 1) { // Whole numbers called x_n or x_c are counts.
		return s
	}
	if s.decimals < 0 {
		s.decimals = m.decimals
	}
	if o.Units == US && m.us != "" {
		s.convert(c.Name, m, difference)
	}
	return s
}

// convert makes the column show the US unit of its measure.
func (s *style) convert(name string, m measure, difference bool) {
	from, _ := schema.ParseUnit(m.unit)
	to, _ := schema.ParseUnit(m.us)
	s.converted, s.scale = true, from.Factor/to.Factor
	if !difference {
		s.offset = (from.Offset - to.Offset) / to.Factor
	}
	s.decimals, s.head = m.usDecimals, rename(name, m)
}

// measureOf finds a column's unit: as declared, else as the catalogue or the name's ending has it. A temperature declared in K
// is a difference of temperatures, since temperatures are stored in °C.
func measureOf(name, declared string) (m measure, difference, ok bool) {
	words := strings.Split(name, "_")
	difference = slices.ContainsFunc(words, func(w string) bool {
		return slices.Contains([]string{"delta", "diff", "sd", "se", "iqr", "spread", "error", "rise", "drop"}, w)
	})
	if declared != "" {
		if u, known := schema.ParseUnit(declared); known {
			if u.Name == "K" {
				difference, u.Name = true, "°C"
			}
			i := slices.IndexFunc(measures(), func(m measure) bool { return m.unit == u.Name })
			if i >= 0 {
				return measures()[i], difference, true
			}
			return measure{}, difference, false
		}
	}
	for len(words) > 1 && slices.Contains(statistics(), words[len(words)-1]) {
		words = words[:len(words)-1]
	}
	stem := strings.Join(words, "_")
	for _, m := range measures() {
		if strings.HasSuffix(stem, "_"+m.suffix) {
			return m, difference, true
		}
	}
	return measure{}, difference, false
}

// rename puts the US unit into a name in place of the stored one: boost_kpa becomes boost_psi, lo95 becomes lo95_psi.
func rename(name string, m measure) string {
	i := strings.LastIndex(name+"_", "_"+m.suffix+"_")
	if i < 0 {
		return name + "_" + m.usSuffix
	}
	return name[:i] + "_" + m.usSuffix + name[i+1+len(m.suffix):]
}
