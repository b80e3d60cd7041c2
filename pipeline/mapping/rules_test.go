package mapping

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/schema"
)

func rulesOf(t *testing.T, text string) Rules {
	t.Helper()
	r, err := ParseRules("m.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestRuleDecides(t *testing.T) {
	rules := rulesOf(t, `mappings:
  - {header: "Aux 3", column: turbine_in_kpa, unit: bar, reference: gauge, factor: 1.25, offset: -0.625}
  - {pattern: "EGT ?[12]", column: turbine_in_c, unit: "°F"}
  - {header: lockup, column: converter_locked_frac, states: {Fest: 1, Los: 0}}
  - {header: RPM, ignore: true, source: "gps*"}
  - {header: Load cell, column: roller_force_n, factor: 2, vehicle: van-1}
  - {header: Boost, column: map_kpa, reference: absolute, offset: 1 bar}
`)
	for _, c := range []struct {
		header, unit  string
		logged, want  float64
		column        string
		vehicle       string
		source        string
		absoluteGauge schema.Reference
	}{
		{"AUX_3", "V", 2.5, (2.5*1.25 - 0.625) * 100, "turbine_in_kpa", "", "a.csv", schema.Gauge},
		{"EGT2", "", 212, 100, "turbine_in_c", "", "a.csv", ""},
		{"Load Cell", "V", 10, 20, "roller_force_n", "van-1", "a.csv", ""},
		{"Load Cell", "V", 10, 0, "", "van-2", "a.csv", ""},
		{"RPM", "rpm", 1000, 0, "", "", "dir/gps_1.csv", ""},
		{"RPM", "rpm", 1000, 1000, "engine_speed_rpm", "", "dir/ecu.csv", ""},
		{"Boost", "kPa", 50, 150, "map_kpa", "", "a.csv", schema.Absolute},
	} {
		log := logOf(c.header, c.unit, c.logged, c.logged)
		log.Source = c.source
		got := ByName([]schema.Log{log}, rules, Context{Sheet: schema.Sheet{Vehicle: c.vehicle}})[0]
		if got.Column != c.column || (got.Column != "" && math.Abs(c.logged*got.Scale+got.Offset-c.want) > 1e-9) || got.Reference != c.absoluteGauge {
			t.Errorf("%q of %s: %+v, want %s %v %q", c.header, c.source, got, c.column, c.want, c.absoluteGauge)
		}
	}
	log := logOf("Lockup", "", math.NaN(), math.NaN())
	log.Series[0].Texts = []schema.Text{{Row: 0, Text: "FEST"}, {Row: 1, Text: "los"}}
	if c := ByName([]schema.Log{log}, rules, Context{})[0]; c.States["FEST"] != 1 || c.States["los"] != 0 || len(c.States) != 2 {
		t.Errorf("states %v", c.States)
	}
}

// A mapping wins over a channel that a name alone would give the column to.
func TestRuleWins(t *testing.T) {
	d := bed{idle: 4, pull: 8, baro: 99}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Tacho 2", "rpm", rpm})}
	claims, _ := settle(logs, rulesOf(t, "mappings: [{header: Tacho 2, column: engine_speed_rpm}]"), Context{})
	if named(logs, claims, "Tacho 2").Lost || !named(logs, claims, "Engine RPM").Lost {
		t.Errorf("claims %+v", claims)
	}
}

func TestRuleFaults(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"mappings:\n  - header: A\n    columm: map_kpa\n", `m.yaml:3:5 columm: found the unknown field "columm"`},
		{"mappings:\n  - header: A\n    column: map_kp\n", `m.yaml:3:13 column: found "map_kp"`},
		{"mappings:\n  - header: A\n    column: map_kp\n", `map_kpa`},
		{"mappings:\n  - header: A\n    column: boost_kpa\n", "worked out as map_kpa - baro_kpa"},
		{"mappings:\n  - header: A\n    column: map_kpa\n    unit: rpm\n", "m.yaml:4:11 unit:"},
		{"mappings:\n  - header: A\n    column: map_kpa\n    unit: psig\n    reference: absolute\n", "want the two to agree"},
		{"mappings:\n  - header: A\n    column: coolant_c\n    reference: gauge\n", "for pressures alone"},
		{"mappings:\n  - header: A\n    column: map_kpa\n    reference: guge\n", `m.yaml:4:16 reference: found "guge"`},
		{"mappings:\n  - header: A\n    column: map_kpa\n    factor: x\n", `m.yaml:4:13 factor: found "x"`},
		{"mappings:\n  - pattern: \"A(\"\n    column: map_kpa\n", "m.yaml:2:14 pattern:"},
		{"mappings:\n  - column: map_kpa\n", "neither header nor pattern"},
		{"mappings:\n  - header: A\n", "m.yaml:2:5: found no column"},
		{"mapings: []\n", `m.yaml:1:1 mapings: found the unknown field "mapings"`},
		{"mappings: [\n", "m.yaml:"},
		{"mappings:\n  - header: A\n    column: gear\n    states: {X: 99}\n", `found "99" for "X"`},
	} {
		_, err := ParseRules("m.yaml", []byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: error %v, want one with %q", c.text, err, c.want)
		}
	}
}

func TestLoadRules(t *testing.T) {
	dir := t.TempDir()
	if r, err := LoadRules(filepath.Join(dir, "none")); err != nil || len(r.List()) != 0 {
		t.Errorf("a folder that is not there: %v, %v", r, err)
	}
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("a.yaml", StarterYAML)
	write("b.yml", "mappings:\n- header: X\n  column: map_kpa\n  unit: bar\n- header: Y\n  ignore: true\n")
	write("notes.txt", "no YAML")
	first, err := LoadRules(dir)
	if err != nil || len(first.List()) != 2 {
		t.Fatalf("%d rules, %v", len(first.List()), err)
	}
	write("b.yml", "# A remark.\nmappings: [{ignore: true, header: 'y'}, {unit: Bar, column: map_kpa, header: x}]\n")
	again, err := LoadRules(dir)
	if err != nil || again.Fingerprint() != first.Fingerprint() {
		t.Errorf("the same rules in another layout have another fingerprint (%v)", err)
	}
	write("b.yml", "mappings: [{ignore: true, header: y}, {unit: psi, column: map_kpa, header: x}]\n")
	changed, err := LoadRules(dir)
	if err != nil || changed.Fingerprint() == first.Fingerprint() {
		t.Errorf("a changed rule has the same fingerprint (%v)", err)
	}
	x, z := []schema.Log{logOf("X", "bar")}, []schema.Log{logOf("Z", "bar")}
	if first.Used(x, Context{}) == changed.Used(x, Context{}) || first.Used(z, Context{}) != changed.Used(z, Context{}) {
		t.Error("the fingerprint of a run's rules does not follow the rules that speak of it, and only those")
	}
}

// The starter's commented example is valid once its comment marks are taken away.
func TestStarterExample(t *testing.T) {
	_, example, ok := strings.Cut(StarterYAML, "# mappings:\n")
	if !ok {
		t.Fatal("no example")
	}
	example = strings.TrimSuffix(example, "mappings: []\n")
	lines := strings.Split("# mappings:\n"+example, "\n")
	for i := range lines {
		lines[i] = strings.TrimPrefix(lines[i], "# ")
	}
	if r := rulesOf(t, strings.Join(lines, "\n")); len(r.List()) != 4 {
		t.Errorf("%d rules, want 4", len(r.List()))
	}
}

func TestStates(t *testing.T) {
	for _, c := range []struct {
		column, text string
		want         float64
		ok           bool
	}{
		{"gear", "N", 0, true}, {"gear", "P", 0, true}, {"gear", "R", -1, true}, {"gear", "1st", 1, true}, {"gear", "3", 3, true}, {"gear", "Gear 4", 4, true}, {"gear", "D5", 5, true}, {"gear", "6. Gang", 6, true}, {"gear", "D", 0, false}, {"gear", "banana", 0, false},
		{"converter_locked_frac", "Locked", 1, true}, {"converter_locked_frac", "ON", 1, true}, {"converter_locked_frac", "applied", 1, true}, {"converter_locked_frac", "Open", 0, true}, {"converter_locked_frac", "slipping", 0.5, true}, {"converter_locked_frac", "unlocked", 0, true},
		{"regen_frac", "Active", 1, true}, {"regen_frac", "not active", 0, true}, {"regen_frac", "in progress", 1, true}, {"regen_frac", "No", 0, true}, {"regen_frac", "true", 1, true}, {"regen_frac", "maybe", 0, false},
	} {
		if v, ok := state(c.column, c.text); v != c.want || ok != c.ok {
			t.Errorf("%s %q = %v, %t, want %v, %t", c.column, c.text, v, ok, c.want, c.ok)
		}
	}
	known, unknown := states("gear", []string{"1", "N", "n/a", "ERROR", "x!"})
	if len(known) != 2 || len(unknown) != 1 || unknown[0] != "x!" {
		t.Errorf("known %v, unknown %v", known, unknown)
	}
}

func TestExplain(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 5, baro: 99}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Boost", "psi", func(p point) float64 { return p.boost / psi }}, ch{"Coolant", "°F", func(point) float64 { return 190 }}, ch{"Padd", "kW", rpm})}
	claims, _ := settle(logs, Rules{}, Context{})
	lines := Explain(logs, claims)
	for i, want := range []string{"", "×6.894757 + baro", "×0.5555556 - 17.77778", ""} {
		if lines[i].Formula != want || lines[i].Reason == "" {
			t.Errorf("%s: %q (%s), want %q", lines[i].Name, lines[i].Formula, lines[i].Reason, want)
		}
	}
	if lines[3].Column != "" {
		t.Errorf("Padd became %s", lines[3].Column)
	}
}

// A mapping decides: what it gives a column stays there whatever it reads, and is doubted where no sensor of the kind reads so.
func TestRuleStandsAgainstPlausibility(t *testing.T) {
	d := bed{stop: 5, idle: 5, pull: 5, baro: 99}
	high := func(p point) float64 { return 100 + p.t }
	for _, c := range []struct{ mappings, column string }{
		{"mappings: []", ""},
		{"mappings:\n  - {header: Oil pressure, column: oil_kpa, unit: bar, reference: gauge}", "oil_kpa"},
	} {
		logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Oil pressure", "bar", high})}
		claims, found := settle(logs, rulesOf(t, c.mappings), Context{})
		if got := named(logs, claims, "Oil pressure"); got.Column != c.column || !has(found, "implausible_values", "Oil pressure") {
			t.Errorf("%s: column %q, findings %v, want %q and a doubt", c.mappings, got.Column, codes(found), c.column)
		}
	}
}
