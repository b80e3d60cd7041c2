package mapping

import (
	"strings"
	"testing"

	"dynolake/schema"
)

// Only a density that the vehicle's entry states is said to be stated: an entry without one has that of diesel.
func TestDensityIsToldWhence(t *testing.T) {
	for _, c := range []struct {
		vehicle *schema.Vehicle
		want    string
	}{
		{nil, "0.835 kg/L, taken for diesel"},
		{&schema.Vehicle{ID: "a", FuelDensityKgL: 0.835}, "0.835 kg/L, taken for diesel"},
		{&schema.Vehicle{ID: "a", FuelDensityKgL: 0.88}, "0.88 kg/L, stated for the vehicle"},
	} {
		claim := ByName([]schema.Log{logOf("Fuel rate", "L/h")}, Rules{}, Context{Vehicle: c.vehicle})[0]
		if len(claim.Guesses) != 1 || !strings.Contains(claim.Guesses[0].Text, c.want) {
			t.Errorf("%+v: %+v, want %q", c.vehicle, claim.Guesses, c.want)
		}
	}
}
