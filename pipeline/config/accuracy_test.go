package config

import (
	"math"
	"strings"
	"testing"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

func accuracyOf(t *testing.T, text string) (map[string]schema.Accuracy, error) {
	t.Helper()
	v, err := entry.Parse("vehicles.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	f := entry.NewForm(v)
	var out schema.Vehicle
	accuracies(f, &out)
	return out.Accuracy, f.Err()
}

// Factors by NIST SP 811 app. B.8: 1 psi is 6.894757 kPa, a degree Fahrenheit 5/9 K, 1 lb/min 7.559873 g/s.
func TestAccuracies(t *testing.T) {
	got, err := accuracyOf(t, `accuracy: {map_kpa: 1 kPa, turbine_in_kpa: 0.5 %, "Turbine-out kPa": 0.5 % + 1 psi, charge_c: ± 4 °F, inlet_c: 1.5 K, maf_g_s: "3 % k=2", baro_kpa: 0.3, humidity_pct: 3 %, lambda_ratio: "2,5 %", fuel_kg_h: 0.1 g/s, engine_speed_rpm: 5}`)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]schema.Accuracy{
		"map_kpa": {Half: 1}, "turbine_in_kpa": {Share: 0.005}, "turbine_out_kpa": {Half: 6.894757293168361, Share: 0.005}, "charge_c": {Half: 20. / 9}, "inlet_c": {Half: 1.5}, "maf_g_s": {Share: 0.03, Coverage: 2},
		"baro_kpa": {Half: 0.3}, "humidity_pct": {Half: 3}, "lambda_ratio": {Share: 0.025}, "fuel_kg_h": {Half: 0.36}, "engine_speed_rpm": {Half: 5},
	} {
		a := got[name]
		if math.Abs(a.Half-want.Half) > 1e-9 || math.Abs(a.Share-want.Share) > 1e-12 || a.Coverage != want.Coverage {
			t.Errorf("%s: %+v, want %+v", name, a, want)
		}
	}
	if len(got) != 11 {
		t.Errorf("%d accuracies, want 11", len(got))
	}
	if got, err := accuracyOf(t, "id: van-1\n"); got != nil || err != nil {
		t.Errorf("without any: %v, %v", got, err)
	}
}

func TestAccuracyMistakes(t *testing.T) {
	for text, want := range map[string]string{
		"accuracy: 1 kPa":                     `found "1 kPa": want columns`,
		"accuracy: {map_kp: 1 kPa}":           `did you mean "map_kpa"`,
		"accuracy: {boost_kpa: 1 kPa}":        `found "boost_kpa"`,
		"accuracy: {gear: 1}":                 `found "gear"`,
		"accuracy: {t_s: 1 ms}":               `found "t_s"`,
		"accuracy: {map_kpa: 1 °C}":           "°C is a temperature, want a pressure",
		"accuracy: {map_kpa: 0 kPa}":          "want an amount above zero",
		"accuracy: {map_kpa: -1 kPa}":         "want an amount above zero",
		"accuracy: {map_kpa: good}":           "want an amount above zero",
		"accuracy: {map_kpa: 0.25 % FS}":      "want an amount above zero",
		"accuracy: {map_kpa: 60 %}":           "want less than half",
		"accuracy: {map_kpa: 5 bar}":          "want less than half",
		"accuracy: {map_kpa: 2 kPa k=0.5}":    "want a coverage factor",
		"accuracy: {map_kpa: 2 kPa k=two}":    "want a coverage factor",
		"accuracy: {map_kpa: [1 kPa, 2 kPa]}": "want one text",
	} {
		_, err := accuracyOf(t, text)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "vehicles.yaml:1:") {
			t.Errorf("%s: %v, want %q with its place", text, err, want)
		}
	}
}
