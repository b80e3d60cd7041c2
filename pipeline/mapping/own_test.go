package mapping

import (
	"strings"
	"testing"

	"dynolake/schema"
)

// A header that is the lake's own name of a column is that column, in its unit and counted from its zero, with no other evidence.
func TestOwnNames(t *testing.T) {
	for _, col := range schema.Columns() {
		if col.Derived || col.Name == "t_s" {
			continue
		}
		low, high := 1.0, 2.0
		if len(col.Range) == 2 {
			low, high = col.Range[0]+0.4*(col.Range[1]-col.Range[0]), col.Range[0]+0.5*(col.Range[1]-col.Range[0])
		}
		for _, header := range []string{col.Name, strings.ToUpper(col.Name), " " + col.Name} {
			for _, unit := range []string{"", "-", col.Unit} {
				got := claimOf(t, header, unit, low, high, low)
				want := schema.NoReference
				if referenced(col) {
					want = col.Reference
				}
				if got.Column != col.Name || got.Scale != 1 || got.Offset != 0 || got.Reference != want {
					t.Errorf("%q [%s] became %q times %v + %v, %q (%s), want the column itself, %q", header, unit, got.Column, got.Scale, got.Offset, got.Reference, got.Why, want)
				}
			}
		}
	}
	if got := claimOf(t, "coolant_c", "°F", 212, 212); got.Column != "coolant_c" || got.Scale*212+got.Offset != 100 {
		t.Errorf("a unit that was stated beside the name is not followed: %+v", got)
	}
}

// Where the values contradict it, an own name decides as little as any other word of the header.
func TestOwnNameAgainstValues(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 8, baro: 97}
	gauge := func(p point) float64 { return 2 * p.boost }
	for _, c := range []struct {
		name  string
		value func(point) float64
		code  string
		add   bool
	}{
		{"absolute as named", func(p point) float64 { return gauge(p) + p.baro }, "reference_from_name", false},
		{"gauge against its name", gauge, "reference_contradicted", true},
	} {
		logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Baro", "kPa", func(p point) float64 { return p.baro }}, ch{"turbine_in_kpa", "", c.value})}
		claims, found := settle(logs, Rules{}, Context{})
		if got := named(logs, claims, "turbine_in_kpa"); got.Column != "turbine_in_kpa" || got.AddBaro != c.add || !has(found, c.code, "turbine_in_kpa") {
			t.Errorf("%s: %+v, findings %v", c.name, got, codes(found))
		}
	}
}
