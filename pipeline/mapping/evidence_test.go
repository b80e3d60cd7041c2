package mapping

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"dynolake/schema"
)

// bed is an invented test: engine stopped for stop seconds, idling for idle, then a pull of pull seconds, at 10 Hz.
type bed struct {
	stop, idle, pull float64
	baro             float64
}

func (d bed) log(source string, channels ...ch) schema.Log {
	n := int(10 * (d.stop + d.idle + d.pull))
	s := schema.Series{Group: schema.Group{}, T: make([]float64, n)}
	for k := range s.T {
		s.T[k] = float64(k) / 10
	}
	for _, c := range channels {
		v := make([]float64, n)
		for k, t := range s.T {
			v[k] = c.value(d.at(t))
		}
		s.Channels = append(s.Channels, schema.Channel{Name: c.name, Unit: c.unit})
		s.Values = append(s.Values, v)
	}
	return schema.Log{Source: source, Series: []schema.Series{s}}
}

// point is the truth at one moment, in stored units; boost, drive and back are gauge.
type point struct {
	t, rpm, pedal, speed, boost, drive, back, power, baro float64
}

func (d bed) at(t float64) point {
	p := point{t: t, baro: d.baro}
	switch {
	case t < d.stop:
	case t < d.stop+d.idle:
		p.rpm, p.boost, p.drive, p.back = 760+8*math.Sin(3*t), 1, 4, 0.3
	default:
		x := (t - d.stop - d.idle) / d.pull
		p.rpm, p.pedal, p.speed = 1500+2000*x, 100, 60+80*x
		p.boost, p.drive, p.back = 30+120*math.Min(1, 2*x), 35+150*x, 2+18*x*x
		p.power = 40 + 90*math.Sin(1.5*x+0.2)
	}
	return p
}

type ch struct {
	name, unit string
	value      func(point) float64
}

func rpm(p point) float64   { return p.rpm }
func pedal(p point) float64 { return p.pedal }

const psi = 6.894757293168361

func settle(logs []schema.Log, rules Rules, ctx Context) ([]schema.Claim, []schema.Finding) {
	if ctx.Sheet.BaroKPa == 0 {
		ctx.Sheet.BaroKPa = math.NaN()
	}
	return ByEvidence(logs, ByName(logs, rules, ctx), nil, ctx)
}

func named(logs []schema.Log, claims []schema.Claim, name string) schema.Claim {
	for _, c := range claims {
		if logs[c.Log].Series[c.Series].Channels[c.Channel].Name == name {
			return c
		}
	}
	return schema.Claim{}
}

func has(found []schema.Finding, code, channel string) bool {
	return slices.ContainsFunc(found, func(f schema.Finding) bool { return f.Code == code && (channel == "" || f.Channel == channel) })
}

func TestAbsoluteOrGauge(t *testing.T) {
	stopped, idling, pullOnly := bed{stop: 5, idle: 10, pull: 8, baro: 99}, bed{idle: 10, pull: 8, baro: 99}, bed{pull: 8, baro: 99}
	mountain := bed{stop: 5, idle: 10, pull: 8, baro: 80}
	gauge := func(p point) float64 { return p.boost }
	absolute := func(p point) float64 { return p.boost + p.baro }
	for _, c := range []struct {
		name   string
		bed    bed
		sheet  float64
		ch     ch
		column string
		add    bool
		code   string
	}{
		{"gauge by key-on", stopped, 99, ch{"Boost", "psi", func(p point) float64 { return p.boost / psi }}, "map_kpa", true, "reference_from_values"},
		{"gauge by idle", idling, 99, ch{"Boost", "psi", func(p point) float64 { return p.boost / psi }}, "map_kpa", true, "reference_from_values"},
		{"absolute by key-on", stopped, 99, ch{"Boost", "kPa", absolute}, "map_kpa", false, "reference_from_values"},
		{"absolute by idle", idling, 99, ch{"Boost Pressure", "mbar", func(p point) float64 { return 10 * (p.boost + p.baro) }}, "map_kpa", false, "reference_from_values"},
		{"absolute by idle, no barometric known", idling, 0, ch{"Boost", "inHg", func(p point) float64 { return (p.boost + p.baro) / 3.386388640341 }}, "map_kpa", false, "reference_from_values"},
		{"open in a bare pull", pullOnly, 99, ch{"Boost", "kPa", absolute}, "", false, "reference_unknown"},
		{"open in a bare gauge pull", pullOnly, 99, ch{"Boost", "kPa", gauge}, "", false, "reference_unknown"},
		{"header says absolute in a bare pull", pullOnly, 99, ch{"Boost absolute", "kPa", absolute}, "map_kpa", false, ""},
		{"unit says gauge in a bare pull", pullOnly, 99, ch{"Boost", "psig", func(p point) float64 { return p.boost / psi }}, "map_kpa", true, ""},
		{"the acronym in a bare pull", pullOnly, 99, ch{"MAP", "kPa", absolute}, "map_kpa", false, "reference_assumed"},
		{"the acronym against the values", stopped, 99, ch{"MAP", "kPa", gauge}, "map_kpa", true, "reference_from_values"},
		{"header says absolute, values say gauge", stopped, 99, ch{"Boost absolute", "kPa", gauge}, "map_kpa", true, "reference_contradicted"},
		{"unit says gauge, values say absolute", stopped, 99, ch{"Boost", "psig", func(p point) float64 { return (p.boost + p.baro) / psi }}, "map_kpa", false, "reference_contradicted"},
		{"on a mountain", mountain, 80, ch{"Boost", "kPa", absolute}, "map_kpa", false, "reference_from_values"},
		{"on a mountain, gauge", mountain, 80, ch{"Boost", "kPa", gauge}, "map_kpa", true, "reference_from_values"},
		{"on a mountain with a weather report", mountain, 101.3, ch{"Boost", "kPa", absolute}, "map_kpa", false, "baro_disagrees"},
		{"drive pressure a little above barometric at idle", idling, 99, ch{"Drive Pressure", "psi", func(p point) float64 { return (p.drive + p.baro) / psi }}, "turbine_in_kpa", false, "reference_from_values"},
		{"drive gauge", stopped, 99, ch{"Drive Pressure", "psi", func(p point) float64 { return p.drive / psi }}, "turbine_in_kpa", true, "reference_from_values"},
		{"exhaust system logged absolute", stopped, 99, ch{"Exhaust system pressure", "kPa", func(p point) float64 { return p.back + p.baro }}, "exhaust_total_kpa", false, "reference_from_values"},
		{"stated kPa, is psi", stopped, 99, ch{"Boost abs", "kPa", func(p point) float64 { return (p.boost + p.baro) / psi }}, "", false, "unit_contradicted"},
		{"stated kPa, is bar", stopped, 99, ch{"Boost", "kPa", func(p point) float64 { return (p.boost + p.baro) / 100 }}, "", false, "unit_contradicted"},
		{"no unit, psi by key-on", stopped, 99, ch{"Boost", "", func(p point) float64 { return (p.boost + p.baro) / psi }}, "map_kpa", false, "unit_assumed"},
		{"no unit, gauge, small", stopped, 99, ch{"Boost", "", func(p point) float64 { return p.boost / psi }}, "", false, "unit_missing"},
		{"no unit, absolute kPa", stopped, 99, ch{"Boost", "", absolute}, "map_kpa", false, "unit_assumed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			logs := []schema.Log{c.bed.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Pedal", "%", pedal}, c.ch)}
			claims, found := settle(logs, Rules{}, Context{Sheet: schema.Sheet{BaroKPa: c.sheet}})
			got := named(logs, claims, c.ch.name)
			if got.Column != c.column || got.AddBaro != c.add {
				t.Errorf("column %q, add barometric %t, want %q, %t (%s)", got.Column, got.AddBaro, c.column, c.add, got.Why)
			}
			if c.code != "" && !has(found, c.code, "") {
				t.Errorf("no finding %s among %v", c.code, codes(found))
			}
			if got.TakeBaro != (c.column == "exhaust_total_kpa") {
				t.Errorf("barometric taken off: %t", got.TakeBaro)
			}
		})
	}
}

func codes(found []schema.Finding) []string {
	var out []string
	for _, f := range found {
		out = append(out, f.Code+" "+f.Channel)
	}
	return out
}

// A pressure logger without engine speed is judged by the engine speed of another recorder, once shifted.
func TestReferenceAcrossRecorders(t *testing.T) {
	d := bed{stop: 6, idle: 10, pull: 8, baro: 97}
	ecu := d.log("ecu.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Pedal", "%", pedal})
	logger := d.log("logger.csv", ch{"Drive Pressure", "kPa", func(p point) float64 { return p.drive }})
	for k := range logger.Series[0].T {
		logger.Series[0].T[k] += 1000
	}
	logs := []schema.Log{ecu, logger}
	ctx := Context{Sheet: schema.Sheet{BaroKPa: 97}}
	claims := ByName(logs, Rules{}, ctx)
	shifted, _ := ByEvidence(logs, claims, []float64{0, -1000}, ctx)
	if c := named(logs, shifted, "Drive Pressure"); c.Column != "turbine_in_kpa" || !c.AddBaro {
		t.Errorf("placed: column %q, add barometric %t, want turbine_in_kpa, true (%s)", c.Column, c.AddBaro, c.Why)
	}
	lost, found := ByEvidence(logs, claims, []float64{0, math.NaN()}, ctx)
	if c := named(logs, lost, "Drive Pressure"); c.Column != "" || !has(found, "reference_unknown", "Drive Pressure") {
		t.Errorf("not placed: column %q, want none and a finding", c.Column)
	}
}

func TestBoostBesideManifold(t *testing.T) {
	d := bed{pull: 8, baro: 100}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Calculated boost", "bar", func(p point) float64 { return p.boost / 100 }},
		ch{"Intake manifold absolute pressure", "kPa", func(p point) float64 { return p.boost + p.baro }}, ch{"Barometric pressure", "kPa", func(point) float64 { return 100 }})}
	claims, found := settle(logs, Rules{}, Context{})
	boost, manifold := named(logs, claims, "Calculated boost"), named(logs, claims, "Intake manifold absolute pressure")
	if boost.Column != "map_kpa" || !boost.Lost || !boost.AddBaro || manifold.Lost || manifold.Column != "map_kpa" {
		t.Errorf("boost %+v\nmanifold %+v", boost, manifold)
	}
	if !has(found, "contested_column", "Calculated boost") || !has(found, "reference_from_sibling", "Calculated boost") {
		t.Errorf("findings %v", codes(found))
	}
}

// Zeros that a recorder writes before its first value are no key-on reading.
func TestZerosBeforeFirstValue(t *testing.T) {
	d := bed{stop: 2, idle: 10, pull: 8, baro: 99}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Boost", "kPa", func(p point) float64 {
		if p.rpm == 0 {
			return 0
		}
		return p.boost + p.baro
	}})}
	claims, found := settle(logs, Rules{}, Context{Sheet: schema.Sheet{BaroKPa: 99}})
	if c := named(logs, claims, "Boost"); c.AddBaro || c.Column != "map_kpa" || !has(found, "reference_from_values", "Boost") {
		t.Errorf("%+v, findings %v", c, codes(found))
	}
}

// A gauge channel without any barometric pressure keeps its column, and the assumption is told.
func TestBarometricAssumed(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 8, baro: 97}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Boost", "psi", func(p point) float64 { return p.boost / psi }})}
	claims, found := settle(logs, Rules{}, Context{})
	if baro := Barometric(logs, claims, nil, Context{}); !baro.Assumed || baro.KPa != 101.325 || !has(found, "baro_assumed", "Boost") {
		t.Errorf("barometric %+v, findings %v", baro, codes(found))
	}
	logs[0].Series[0].Channels = append(logs[0].Series[0].Channels, schema.Channel{Name: "Inlet pressure abs", Unit: "kPa"})
	logs[0].Series[0].Values = append(logs[0].Series[0].Values, slices.Repeat([]float64{97}, len(logs[0].Series[0].T)))
	claims, found = settle(logs, Rules{}, Context{})
	if baro := Barometric(logs, claims, nil, Context{}); baro.Assumed || baro.KPa != 97 || has(found, "baro_assumed", "") {
		t.Errorf("barometric %+v, findings %v", baro, codes(found))
	}
}

// Bare temperatures follow a warm coolant, and stay out without one.
func TestBareTemperatures(t *testing.T) {
	for _, c := range []struct {
		coolant     float64
		unit        string
		scale       float64
		found, gone bool
	}{{88, "°C", 1, true, false}, {190, "°F", 5.0 / 9, true, false}, {45, "", 0, false, true}} {
		log := logOf("Coolant temp", "", c.coolant-5, c.coolant, c.coolant)
		log.Series[0].Channels = append(log.Series[0].Channels, schema.Channel{Name: "IAT"})
		log.Series[0].Values = append(log.Series[0].Values, []float64{70, 75, 80})
		claims, found := settle([]schema.Log{log}, Rules{}, Context{})
		if iat := claims[1]; (iat.Column == "") != c.gone || (!c.gone && math.Abs(iat.Scale-c.scale) > 1e-12) || iat.Unit != c.unit || has(found, "unit_assumed", "IAT") != c.found || has(found, "unit_missing", "IAT") != c.gone {
			t.Errorf("coolant %v: %+v, findings %v", c.coolant, iat, codes(found))
		}
	}
}

func TestExhaustSide(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 10, baro: 99}
	for _, c := range []struct {
		name   string
		ch     ch
		column string
		take   bool
	}{
		{"before the turbine", ch{"Exhaust back pressure", "kPa", func(p point) float64 { return p.drive + p.baro }}, "turbine_in_kpa", false},
		{"after it, named as before", ch{"Exhaust back pressure", "kPa", func(p point) float64 { return p.back }}, "exhaust_total_kpa", false},
		{"after it, absolute", ch{"Exhaust pressure", "kPa", func(p point) float64 { return p.back + p.baro }}, "exhaust_total_kpa", true},
		{"before it, named as after", ch{"Backpressure", "psi", func(p point) float64 { return p.drive / psi }}, "turbine_in_kpa", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"MAP", "kPa", func(p point) float64 { return p.boost + p.baro }}, c.ch)}
			claims, found := settle(logs, Rules{}, Context{})
			got := named(logs, claims, c.ch.name)
			if got.Column != c.column || got.TakeBaro != c.take || !has(found, "exhaust_side_from_values", c.ch.name) {
				t.Errorf("column %q, barometric taken off %t (%s), want %q, %t", got.Column, got.TakeBaro, got.Why, c.column, c.take)
			}
		})
	}
}

func TestImplausible(t *testing.T) {
	d := bed{idle: 5, pull: 10, baro: 99}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Coolant temp", "°C", func(p point) float64 { return 190 + p.t/10 }}, ch{"Oil temp", "°C", func(p point) float64 {
		if p.t > 14.4 {
			return 250
		}
		return 90
	}}, ch{"Pedal", "%", func(p point) float64 { return p.pedal / 101 }}, ch{"Trans temp", "°C", func(p point) float64 {
		if p.t < 2 {
			return -40
		}
		return 70
	}})}
	claims, found := settle(logs, Rules{}, Context{})
	for name, column := range map[string]string{"Coolant temp": "", "Oil temp": "oil_c", "Engine RPM": "engine_speed_rpm", "Pedal": "pedal_pct"} {
		if c := named(logs, claims, name); c.Column != column {
			t.Errorf("%s became %q, want %q (%s)", name, c.Column, column, c.Why)
		}
	}
	for code, channel := range map[string]string{"implausible_values": "Coolant temp", "unit_contradicted": "Pedal", "sentinel_value": "Trans temp"} {
		if !has(found, code, channel) {
			t.Errorf("no %s for %s among %v", code, channel, codes(found))
		}
	}
	if !has(found, "implausible_values", "Oil temp") {
		t.Errorf("no doubt about the oil's share of wrong values")
	}
}

// Claims depend on what the channels are, not on where they stand.
func TestOrderChangesNothing(t *testing.T) {
	d := bed{stop: 4, idle: 6, pull: 8, baro: 98}
	channels := []ch{{"Engine RPM", "rpm", rpm}, {"Engine speed", "1/min", rpm}, {"Pedal", "%", pedal}, {"Throttle position", "%", func(p point) float64 { return 95 }},
		{"Boost", "psi", func(p point) float64 { return p.boost / psi }}, {"MAP", "kPa", func(p point) float64 { return p.boost + p.baro }}, {"Desired boost", "kPa", func(p point) float64 { return p.boost + p.baro + 3 }},
		{"Exhaust back pressure", "kPa", func(p point) float64 { return p.drive + p.baro }}, {"Torque", "Nm", func(p point) float64 { return p.power * 9549.297 / max(p.rpm, 1) }}, {"Power", "kW", func(p point) float64 { return p.power }},
		{"Coolant temp", "", func(p point) float64 { return 80 + p.t/10 }}, {"IAT", "", func(p point) float64 { return 30 + p.t/10 }}, {"Average speed", "km/h", rpm}, {"Vehicle speed", "", func(p point) float64 { return p.speed }}}
	want := map[string]schema.Claim{}
	random := rand.New(rand.NewPCG(1, 2))
	for turn := range 30 {
		logs := []schema.Log{d.log("a.csv", channels...)}
		claims, found := settle(logs, Rules{}, Context{})
		for _, c := range claims {
			name := logs[0].Series[0].Channels[c.Channel].Name
			c.Channel, c.Guesses = 0, nil
			if turn == 0 {
				want[name] = c
			} else if w := want[name]; w.Column != c.Column || w.Lost != c.Lost || w.Scale != c.Scale || w.Offset != c.Offset || w.AddBaro != c.AddBaro || w.Why != c.Why {
				t.Fatalf("turn %d, %s: %+v, before it was %+v", turn, name, c, w)
			}
		}
		if turn == 0 && len(found) == 0 {
			t.Fatal("no finding at all")
		}
		random.Shuffle(len(channels), func(i, j int) { channels[i], channels[j] = channels[j], channels[i] })
	}
	for name, column := range map[string]string{"Boost": "map_kpa", "MAP": "map_kpa", "Desired boost": "map_set_kpa", "Exhaust back pressure": "turbine_in_kpa", "Coolant temp": "coolant_c", "IAT": "inlet_c", "Throttle position": "", "Torque": "torque_nm"} {
		if want[name].Column != column {
			t.Errorf("%s became %q, want %q (%s)", name, want[name].Column, column, want[name].Why)
		}
	}
	if !want["Boost"].Lost || want["MAP"].Lost || want["Engine RPM"].Lost == want["Engine speed"].Lost {
		t.Error("contested columns are not settled")
	}
}

// A pedal at rest that reads a little below 0 in half of its rows is a pedal at rest, not an implausible channel.
func TestNoiseAroundZero(t *testing.T) {
	d := bed{idle: 15, pull: 10, baro: 99}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Accelerator pedal", "%", func(p point) float64 { return p.pedal + 0.4*math.Sin(97*p.t) }})}
	claims, found := settle(logs, Rules{}, Context{})
	if c := named(logs, claims, "Accelerator pedal"); c.Column != "pedal_pct" || has(found, "implausible_values", "Accelerator pedal") {
		t.Errorf("the pedal became %q (%s); found %v", c.Column, c.Why, codes(found))
	}
}
