package mapping

import (
	"math"
	"strings"
	"testing"

	"dynolake/schema"
)

// zeros runs a bed whose sensors are off by a stated amount through all that settles a run, and gives findings by code and column.
func zeros(t *testing.T, d bed, rules, sheet string) map[string]schema.Finding {
	t.Helper()
	r, err := ParseRules("m.yaml", []byte(rules))
	if err != nil {
		t.Fatal(err)
	}
	logs := []schema.Log{d.log("a.csv", ch{"Engine RPM", "rpm", rpm}, ch{"Pedal", "%", pedal}, ch{"Barometric pressure", "kPa", func(p point) float64 { return p.baro }},
		ch{"Boost", "psi", func(p point) float64 { return (p.boost + 0.7) / psi }},
		ch{"Drive Pressure", "kPa", func(p point) float64 { return p.drive + p.baro - 1.5 }},
		ch{"DPF differential pressure", "kPa", func(p point) float64 { return p.back/2 + 0.25 }})}
	ctx := Context{Sheet: schema.Sheet{BaroKPa: math.NaN(), Zero: sheet}}
	claims, _ := settle(logs, r, ctx)
	baro := Barometric(logs, claims, nil, ctx)
	before := append([]schema.Claim(nil), claims...)
	claims, found := Zeros(logs, claims, nil, ctx, baro)
	byCode := map[string]schema.Finding{}
	for i, c := range claims {
		if c.Column == "turbine_in_kpa" {
			byCode["offset"] = schema.Finding{Value: c.Offset - before[i].Offset}
		}
	}
	for _, f := range found {
		byCode[f.Code+" "+f.Channel] = f
	}
	return byCode
}

func close(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %g, want %g ± %g", what, got, want, tolerance)
	}
}

func TestZerosAreToldAndLeftAlone(t *testing.T) {
	found := zeros(t, bed{stop: 5, idle: 10, pull: 8, baro: 99}, "mappings: []", "")
	close(t, "boost", found["sensor_zero map_kpa"].Value, 0.7, 1e-6)
	close(t, "drive", found["sensor_zero turbine_in_kpa"].Value, -1.5, 1e-6)
	close(t, "filter", found["sensor_zero dpf_delta_kpa"].Value, 0.25, 1e-6)
	close(t, "drive at idle", found["sensor_zero_idle turbine_in_kpa"].Value, 2.5, 1e-6)
	close(t, "nothing is moved", found["offset"].Value, 0, 0)
	for code, f := range found {
		if strings.HasPrefix(code, "zero_") || code != "offset" && (f.Unit != "kPa" || f.Severity != schema.Note || !strings.Contains(f.Text, "spread")) {
			t.Errorf("%s: %+v", code, f)
		}
	}
}

func TestZerosAreTakenOffWhereAsked(t *testing.T) {
	stopped, running := bed{stop: 5, idle: 10, pull: 8, baro: 99}, bed{idle: 10, pull: 8, baro: 99}
	const rule = "mappings:\n  - {header: Drive Pressure, column: turbine_in_kpa, unit: kPa, reference: absolute, zero: "
	for name, c := range map[string]struct {
		bed          bed
		rules, sheet string
		offset       float64
		code         string
	}{
		"by a mapping":                  {stopped, rule + "key-on}\n", "", 1.5, "zero_corrected turbine_in_kpa"},
		"by a figure of a mapping":      {stopped, rule + "-1.2 kPa}\n", "", 1.2, "zero_corrected turbine_in_kpa"},
		"by the sheet":                  {stopped, "mappings: []", "key-on", 1.5, "zero_corrected turbine_in_kpa"},
		"by the sheet for one":          {stopped, "mappings: []", "turbine_in_kpa", 1.5, "zero_corrected turbine_in_kpa"},
		"by a figure of the sheet":      {running, "mappings: []", "turbine_in_kpa = 0.3 psi", -0.3 * psi, "zero_corrected turbine_in_kpa"},
		"of another alone":              {stopped, "mappings: []", "map_kpa", 0, "zero_corrected map_kpa"},
		"a mapping's none wins":         {stopped, rule + "none}\n", "key-on", 0, "zero_corrected map_kpa"},
		"with an engine that never was": {running, "mappings: []", "key-on", 0, "zero_unknown turbine_in_kpa"},
	} {
		found := zeros(t, c.bed, c.rules, c.sheet)
		close(t, name, found["offset"].Value, c.offset, 1e-6)
		if _, ok := found[c.code]; !ok {
			t.Errorf("%s: no %s", name, c.code)
		}
	}
}

func TestZeroOfAMappingIsChecked(t *testing.T) {
	for text, want := range map[string]string{
		"{header: X, column: coolant_c, zero: key-on}":  "want it for one of",
		"{header: X, column: map_kpa, zero: sometimes}": `found "sometimes"`,
		"{header: X, column: map_kpa, zero: 400 kPa}":   "400",
		"{header: X, column: map_kpa, zero: 2 °C}":      "°C",
		"{header: X, column: rail_kpa, zero: key-on}":   "want it for one of",
		"{header: X, column: map_kpa, zeros: key-on}":   "zeros",
	} {
		if _, err := ParseRules("m.yaml", []byte("mappings:\n  - "+text+"\n")); err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "m.yaml:2:") {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
	plain, _ := ParseRules("m.yaml", []byte("mappings:\n  - {header: X, column: map_kpa}\n"))
	zeroed, _ := ParseRules("m.yaml", []byte("mappings:\n  - {header: X, column: map_kpa, zero: key-on}\n"))
	if plain.Fingerprint() == zeroed.Fingerprint() {
		t.Error("a rule's zero does not count in what a run depends on")
	}
}
