package mapping

import (
	"strings"
	"testing"

	"dynolake/schema"
)

// A figure of 17 to 60 is an air-fuel ratio whatever its header says; stored as lambda it would be wrong fourteenfold.
func TestAirFuelRatioIsNoLambda(t *testing.T) {
	for _, c := range []struct {
		name, unit, code string
		values           []float64
	}{
		{"AFR", "", "air_fuel_scale", []float64{60, 40, 22, 18, 17}},
		{"Lambda", "AFR", "air_fuel_scale", []float64{60, 40, 22, 18, 17}},
		{"Wideband A/F", ":1", "air_fuel_scale", []float64{60, 40, 22, 18, 17}},
		{"Lambda", "-", "unit_contradicted", []float64{29, 25, 22, 18, 17}},
		{"Lambda", "-", "", []float64{6, 4, 2, 1.3, 1.2}},
	} {
		logs := []schema.Log{logOf(c.name, c.unit, c.values...)}
		claims, found := ByEvidence(logs, ByName(logs, Rules{}, Context{}), nil, Context{})
		if stored := claims[0].Column != ""; stored != (c.code == "") {
			t.Errorf("%q [%s] became %q (%s)", c.name, c.unit, claims[0].Column, claims[0].Why)
		}
		told := c.code == ""
		for _, f := range found {
			told = told || f.Code == c.code && strings.Contains(f.Text, "add a mapping")
		}
		if !told {
			t.Errorf("%q [%s]: no finding %s that says what to add", c.name, c.unit, c.code)
		}
	}
}
