package mapping

import (
	"math"
	"testing"

	"dynolake/schema"
)

func TestTorques(t *testing.T) {
	d := bed{idle: 5, pull: 8, baro: 99}
	const radius = 0.32
	atEngine := func(p point) float64 {
		if p.rpm == 0 {
			return 0
		}
		return p.power * 9549.297 / p.rpm
	}
	atHubs := func(p point) float64 {
		if p.speed == 0 {
			return 0
		}
		return p.power * 3600 * radius / p.speed
	}
	force := func(p point) float64 { return atHubs(p) / radius }
	vehicle := &schema.Vehicle{RollingRadiusM: radius}
	for _, c := range []struct {
		name    string
		vehicle *schema.Vehicle
		ch      ch
		beside  ch
		column  string
		code    string
	}{
		{"torque is torque", vehicle, ch{"Torque", "Nm", atEngine}, ch{"Power", "kW", func(p point) float64 { return p.power }}, "torque_nm", "torque_told"},
		{"torque is at the hubs", vehicle, ch{"Torque", "Nm", atHubs}, ch{"Power", "kW", func(p point) float64 { return p.power }}, "wheel_torque_nm", "torque_told"},
		{"torque is at the hubs by force", vehicle, ch{"Torque", "lb-ft", func(p point) float64 { return atHubs(p) / 1.3558179483314004 }}, ch{"Roller force", "N", force}, "wheel_torque_nm", "torque_told"},
		{"wheel torque is at engine speed", vehicle, ch{"Wheel torque", "Nm", atEngine}, ch{"Roller force", "N", force}, "torque_nm", "torque_told"},
		{"torque is the engine's", vehicle, ch{"Torque", "Nm", func(p point) float64 { return 1.18 * atEngine(p) }}, ch{"Power", "kW", func(p point) float64 { return p.power }}, "engine_torque_nm", "torque_told"},
		{"torque is at the hubs, radius unknown", nil, ch{"Torque", "Nm", atHubs}, ch{"Roller force", "N", force}, "wheel_torque_nm", "torque_told"},
		{"torque is torque, radius unknown", nil, ch{"Torque", "Nm", atEngine}, ch{"Roller force", "N", force}, "torque_nm", "torque_told"},
		{"torque with nothing beside it", nil, ch{"Torque", "Nm", atEngine}, ch{"Note", "", rpm}, "torque_nm", "torque_assumed"},
		{"torque that fits nothing", vehicle, ch{"Torque", "Nm", func(p point) float64 { return 300 + 200*math.Sin(5*p.t) }}, ch{"Power", "kW", func(p point) float64 { return p.power }}, "torque_nm", "torque_unclear"},
	} {
		t.Run(c.name, func(t *testing.T) {
			logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Roller speed", "km/h", func(p point) float64 { return p.speed }}, c.ch, c.beside)}
			claims, found := settle(logs, Rules{}, Context{Vehicle: c.vehicle})
			if got := named(logs, claims, c.ch.name); got.Column != c.column || !has(found, c.code, c.ch.name) {
				t.Errorf("column %q, findings %v, want %q and %s", got.Column, codes(found), c.column, c.code)
			}
		})
	}
}

// A sheet's barometric is doubted from 3 kPa off what the pressures read at key-on, and not before.
func TestSheetBarometric(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 5, baro: 96}
	for _, c := range []struct {
		sheet float64
		doubt bool
	}{{96, false}, {98.9, false}, {99.2, true}, {92.5, true}} {
		logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"MAP", "kPa", func(p point) float64 { return p.boost + p.baro }}, ch{"Inlet pressure", "kPa", func(p point) float64 { return p.baro }})}
		_, found := settle(logs, Rules{}, Context{Sheet: schema.Sheet{BaroKPa: c.sheet}})
		if has(found, "baro_disagrees", "") != c.doubt {
			t.Errorf("sheet %v: findings %v, want a doubt: %t", c.sheet, codes(found), c.doubt)
		}
	}
}

// Two recorders that both log engine speed: the faster one holds it, whichever comes first.
func TestContestAcrossRecorders(t *testing.T) {
	d := bed{idle: 5, pull: 10, baro: 99}
	fast := d.log("dyno.csv", ch{"Engine speed", "rpm", rpm}, ch{"Roller speed", "km/h", func(p point) float64 { return p.speed }})
	slow := d.log("ecu.csv", ch{"Engine RPM", "rpm", rpm})
	s := &slow.Series[0]
	for k := 0; k*10 < len(s.T); k++ {
		s.T[k], s.Values[0][k] = s.T[10*k], s.Values[0][10*k]
	}
	s.T, s.Values[0] = s.T[:15], s.Values[0][:15]
	for _, logs := range [][]schema.Log{{fast, slow}, {slow, fast}} {
		claims, found := settle(logs, Rules{}, Context{})
		if named(logs, claims, "Engine speed").Lost || !named(logs, claims, "Engine RPM").Lost || !has(found, "contested_column", "Engine RPM") {
			t.Errorf("claims %+v, findings %v", claims, codes(found))
		}
	}
}
