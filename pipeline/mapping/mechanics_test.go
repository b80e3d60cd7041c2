package mapping

import (
	"math"
	"testing"

	"dynolake/schema"
)

// A power and a torque without units are told by each other, by force and speed, or not at all.
func TestBareMechanics(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 10, baro: 99}
	const hp, ps, lbft, kgfm = 0.7456998715822702, 0.73549875, 1.3558179483314004, 9.80665
	power := func(per float64) func(point) float64 { return func(p point) float64 { return p.power / per } }
	torque := func(per float64) func(point) float64 {
		return func(p point) float64 { return p.power * powerFactor / max(p.rpm, 1) / per }
	}
	force := ch{"Tractive Force", "N", func(p point) float64 { return p.power * 3600 / max(p.speed, 1) }}
	speed := ch{"Roller Speed", "km/h", func(p point) float64 { return p.speed }}
	for _, c := range []struct {
		name     string
		channels []ch
		power    float64 // The scale of Power, 0 for unmapped.
		torque   float64
	}{
		{"kW and N·m", []ch{{"Power", "", power(1)}, {"Torque", "", torque(1)}}, 1, 1},
		{"hp and lb-ft", []ch{{"Power", "", power(hp)}, {"Torque", "", torque(lbft)}}, hp, lbft},
		{"PS and N·m", []ch{{"Power", "", power(ps)}, {"Torque", "", torque(1)}}, ps, 1},
		{"PS and kgf·m", []ch{{"Power", "", power(ps)}, {"Torque", "", torque(kgfm)}}, ps, kgfm},
		{"hp stated", []ch{{"Power", "hp", power(hp)}, {"Torque", "", torque(lbft)}}, hp, lbft},
		{"lb-ft stated", []ch{{"Power", "", power(hp)}, {"Torque", "lb-ft", torque(lbft)}}, hp, lbft},
		{"no pair", []ch{{"Power", "", power(1)}, {"Torque", "", torque(0.3)}}, 0, 0},
		{"power alone", []ch{{"Power", "", power(1)}}, 0, 0},
		{"torque alone", []ch{{"Torque", "", torque(1)}}, 0, 0},
		{"power by force", []ch{{"Power", "", power(hp)}, force, speed}, hp, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			logs := []schema.Log{d.log("a.csv", append([]ch{{"Engine RPM", "rpm", rpm}}, c.channels...)...)}
			claims, found := settle(logs, Rules{}, Context{})
			for name, want := range map[string]float64{"Power": c.power, "Torque": c.torque} {
				got := named(logs, claims, name)
				if (got.Column != "") != (want > 0) || want > 0 && math.Abs(got.Scale/want-1) > 1e-12 {
					t.Errorf("%s became %q times %v (%s), want times %v", name, got.Column, got.Scale, got.Why, want)
				}
			}
			if c.power == 0 && len(c.channels) == 1 && !has(found, "unit_missing", c.channels[0].name) {
				t.Errorf("findings %v", codes(found))
			}
		})
	}
}

// What the trade logs in several units of like size stays out where none is stated.
func TestBareUnitsStayOpen(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 10, baro: 99}
	for _, c := range []ch{
		{"Fuel Rate", "", func(p point) float64 { return p.power / 4 }},
		{"MAF", "", func(p point) float64 { return p.rpm / 10 }},
		{"Tractive Force", "", func(p point) float64 { return p.power * 30 }},
		{"Oil Pressure", "", func(p point) float64 { return p.rpm / 60 }},
		{"Drive Pressure", "", func(p point) float64 { return p.drive / psi * 4 }},
		{"DPF differential pressure", "", func(p point) float64 { return p.back }},
		{"Exhaust system back pressure", "", func(p point) float64 { return 10 * p.back }},
		{"Vehicle Speed", "", func(p point) float64 { return p.speed }},
	} {
		logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Coolant", "°F", func(point) float64 { return 190 }}, c)}
		claims, found := settle(logs, Rules{}, Context{})
		if got := named(logs, claims, c.name); got.Column != "" || !has(found, "unit_missing", c.name) {
			t.Errorf("%s became %q (%s), findings %v", c.name, got.Column, got.Why, codes(found))
		}
	}
}
