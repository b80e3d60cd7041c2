package schema

import (
	"math"
	"testing"
)

// Factors by NIST SP 811 (2008) app. B.8 and the units' definitions, cross-read in GNU units.
func TestConvert(t *testing.T) {
	for _, c := range []struct {
		x    float64
		from string
		to   string
		want float64
		tol  float64
	}{
		{25, "psi", "kPa", 172.369, 5e-4},
		{29.92, "inHg", "kPa", 101.3207, 5e-5},
		{760, "mmHg", "kPa", 101.325014, 5e-7},
		{28, "inH2O", "kPa", 6.974489, 5e-7},
		{300, "ft-lb", "N·m", 406.7454, 5e-5},
		{250, "hp", "kW", 186.4250, 5e-5},
		{250, "PS", "kW", 183.8747, 5e-5},
		{60, "mph", "km/h", 96.56064, 1e-9},
		{45, "lb/min", "kg/s", 0.340194, 5e-7},
		{77, "°F", "°C", 25, 1e-9},
		{298.15, "K", "°C", 25, 1e-9},
		{10, "gal/h", "L/h", 37.85412, 5e-6},
		{1, "lbf-in", "N·m", 0.112984829028, 1e-12},
		{1, "kgf·m", "N·m", 9.80665, 0},
		{1, "atm", "kPa", 101.325, 0},
	} {
		from, ok1 := ParseUnit(c.from)
		to, ok2 := ParseUnit(c.to)
		if !ok1 || !ok2 {
			t.Errorf("%s or %s is not understood", c.from, c.to)
			continue
		}
		got, err := from.Convert(c.x, to)
		if err != nil || math.Abs(got-c.want) > c.tol {
			t.Errorf("%v %s = %v %s, want %v (%v)", c.x, c.from, got, c.to, c.want, err)
		}
	}
}

func TestParseUnitSpellings(t *testing.T) {
	for spelling, want := range map[string]string{
		"[kPa]": "kPa", "PSI": "psi", "lbf.ft": "lb-ft", "ft-lb": "lb-ft", "1/min ": "rpm", "min-1": "rpm", "min⁻¹": "rpm", "ch": "PS", "U/min": "rpm",
		"℃": "°C", "degC": "°C", "deg F": "°F", "kgf/cm²": "kgf/cm2", "cm³/s": "cm3/s", "ccps": "cm3/s", "mm3/stk": "mm3/stk", "µs": "us",
		"μs": "us", "Â°C": "°C", "\ufffdC": "°C", "?F": "°F", "g per s": "g/s", "km h-1": "km/h", "mm³/Hub": "mm3/stk", "inH₂O": "inH2O", "inches Hg": "inHg", "pound-feet": "lb-ft", "CV": "PS", "N m": "N·m", "Nm": "N·m", "(%)": "%", "-": "1", "krpm": "krpm", "km/h": "km/h", "kph": "km/h", "mg/stk": "mg",
	} {
		if u, ok := ParseUnit(spelling); !ok || u.Name != want {
			t.Errorf("ParseUnit(%q) = %q, want %q", spelling, u.Name, want)
		}
	}
	for spelling, want := range map[string]Reference{"psia": Absolute, "psig": Gauge, "bar a": Absolute, "bar absolut": Absolute, "bar ü": Gauge, "barg": Gauge, "kPa abs": Absolute, "kPa gauge": Gauge, "kPa": NoReference} {
		if u, ok := ParseUnit(spelling); !ok || u.Reference != want {
			t.Errorf("ParseUnit(%q).Reference = %q, want %q", spelling, u.Reference, want)
		}
	}
	for _, s := range []string{"", "€", "furlong", "m_sec2", "AFR", "of", "?"} {
		if u, ok := ParseUnit(s); ok {
			t.Errorf("ParseUnit(%q) = %q, want none", s, u.Name)
		}
	}
}

func TestCatalogueIsSound(t *testing.T) {
	ids, names := map[int]string{}, map[string]bool{}
	for _, c := range Columns() {
		if ids[c.ID] != "" || names[c.Name] {
			t.Errorf("column %s: id %d or name is used twice (%s)", c.Name, c.ID, ids[c.ID])
		}
		ids[c.ID], names[c.Name] = c.Name, true
		if c.Derived != (c.ID >= 1000) || (c.Derived && (c.Formula == "" || c.Source == "")) {
			t.Errorf("column %s: derived columns have an id from 1000, a formula and a source", c.Name)
		}
		if c.Type != "enum" {
			if _, ok := ParseUnit(c.Unit); !ok {
				t.Errorf("column %s: unit %q is not in units.yaml", c.Name, c.Unit)
			}
		}
		if (c.Quantity == "pressure") != (c.Reference != NoReference) {
			t.Errorf("column %s: pressures alone have a reference", c.Name)
		}
		if c.Meaning == "" || (c.Kind != Continuous && c.Kind != State) {
			t.Errorf("column %s: meaning and kind are needed", c.Name)
		}
	}
}
