package mapping

import (
	"math"
	"testing"

	"dynolake/schema"
)

// Any header and unit give one claim: a known column with a finite scale, or none and a reason.
func FuzzNames(f *testing.F) {
	for _, s := range [][2]string{{"Boost (psi)", ""}, {"EngSpeed", "rpm"}, {"T_comp_out", "°C"}, {"ÖlDruck", "bar"}, {"((", "%"}, {"MAPkPaabs", "kPa abs"}, {"1", "1/min"}, {"λ", "-"}} {
		f.Add(s[0], s[1], 20.0)
	}
	f.Fuzz(func(t *testing.T, header, unit string, value float64) {
		logs := []schema.Log{logOf(header, unit, value, value, math.NaN())}
		claims, _ := settle(logs, Rules{}, Context{})
		if len(claims) != 1 {
			t.Fatalf("%d claims", len(claims))
		}
		c := claims[0]
		if c.Column == "" {
			if c.Why == "" {
				t.Errorf("%q [%q]: no column and no reason", header, unit)
			}
			return
		}
		if _, ok := schema.Lookup(c.Column); !ok || c.Scale == 0 || math.IsNaN(c.Scale+c.Offset) || c.Confidence < 0 || c.Confidence > 1 {
			t.Errorf("%q [%q]: %+v", header, unit, c)
		}
	})
}
