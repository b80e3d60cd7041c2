package entry

import (
	"math"
	"strings"
	"testing"

	"dynolake/schema"
)

func TestQuantityReadsNumbersAsWritten(t *testing.T) {
	baro := Want{Unit: "kPa", Reference: schema.Absolute, Low: 50, High: 110, Example: "99.1 kPa"}
	for text, want := range map[string]float64{
		"99.1": 99.1, "99,1 kPa": 99.1, "1013 mbar": 101.3, "1,013 bar": 101.3, "1,013 mbar": 101.3, "1.013,25 hPa": 101.325, "1 013 mbar": 101.3,
		"1\u00a0013,5 mbar": 101.35, "29.92 inHg": 29.92 * 3.386388640341, "14.5psia": 99.9739807509, "9.91e1": 99.1, "760 mmHg": 101.3250144354, "+99": 99,
	} {
		r, err := Quantity(text, baro)
		if err != nil || math.Abs(r.Value-want) > 1e-9 {
			t.Errorf("Quantity(%q) = %v, %v, want %v", text, r.Value, err, want)
		}
	}
	for _, text := range []string{"", "kPa", "NaN", "1013", "99.1 kg", "99 psig", "1e999", "--3", "99.1 furlong"} {
		if r, err := Quantity(text, baro); err == nil {
			t.Errorf("Quantity(%q) = %v, want an error", text, r.Value)
		}
	}
	if r, err := QuantityIn("990", "mbar", baro); err != nil || r.Value != 99 {
		t.Errorf("QuantityIn(990, mbar) = %v, %v", r.Value, err)
	}
	if r, err := Quantity("−12,5 °C", Want{Unit: "°C", Low: -45, High: 60, Example: "20 °C"}); err != nil || r.Value != -12.5 {
		t.Errorf("a minus sign gives %v, %v", r.Value, err)
	}
}

// 1 lbf is 4.4482216152605 N and 1 mph 1.609344 km/h (NIST SP 811 app. B.8), 1 m/s is 3.6 km/h.
func TestCoefficientUnits(t *testing.T) {
	for _, c := range []struct {
		text  string
		power int
		want  float64
	}{
		{"120 N", 0, 120}, {"120", 0, 120}, {"27 lbf", 0, 27 * 4.4482216152605}, {"0.9 N/(km/h)", 1, 0.9}, {"0.9 N/km/h", 1, 0.9}, {"3.6 N/(m/s)", 1, 1}, {"3.6 N·s/m", 1, 1},
		{"0.9 N/kph", 1, 0.9}, {"0.5 lbf/mph", 1, 0.5 * 4.4482216152605 / 1.609344}, {"0.03 N/(km/h)^2", 2, 0.03}, {"0.03 N/(km/h)²", 2, 0.03}, {"0.03 N·h²/km²", 2, 0.03},
		{"12.96 N/(m/s)^2", 2, 1}, {"12.96 N/(m/s)**2", 2, 1}, {"0.02 lbf/mph^2", 2, 0.02 * 4.4482216152605 / 1.609344 / 1.609344}, {"0.02 lbf/mph2", 2, 0.02 * 4.4482216152605 / 1.609344 / 1.609344}, {"0,03 N/(km/h)^2", 2, 0.03},
	} {
		if got, err := Coefficient(c.text, c.power); err != nil || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("Coefficient(%q, %d) = %v, %v, want %v", c.text, c.power, got, err, c.want)
		}
	}
	for _, c := range []struct {
		text  string
		power int
	}{{"120 N/(km/h)", 0}, {"1 N", 1}, {"1 kg/(km/h)", 1}, {"1 N/kg", 1}, {"1 N/(km/h)", 2}, {"N", 0}} {
		if got, err := Coefficient(c.text, c.power); err == nil {
			t.Errorf("Coefficient(%q, %d) = %v, want an error", c.text, c.power, got)
		}
	}
}

func TestNearest(t *testing.T) {
	names := []string{"displacement", "duty", "turbine_in_c", "inertia"}
	for word, want := range map[string]string{"displacment": "displacement", "dtuy": "duty", "Turbine-in-C": "turbine_in_c", "inertial": "inertia", "colour": "", "x": ""} {
		if got := Nearest(word, names); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestParseKeepsPlaces(t *testing.T) {
	v, err := Parse("f", []byte("base: &b {x: 1, y: 2}\nlist:\n  - <<: *b\n    y: \"three: 3\"\n    007: |\n      text\n"))
	if err != nil {
		t.Fatal(err)
	}
	list, _ := v.Field("list")
	item := list.Value.Items[0]
	x, _ := item.Field("x")
	y, _ := item.Field("Y")
	n, _ := item.Field("007")
	if x.Value.Text != "1" || y.Value.Text != "three: 3" || y.Value.At.String() != "f:4:8" || n.Value.Text != "text\n" || item.At.Line != 3 {
		t.Errorf("got %+v", item)
	}
	for _, text := range []string{"a: *b", "---\na: 1\n---\nb: 1\n", "a: &a [*a]", "a: [[[[" + strings.Repeat("[", 100), "a:\n\tb: 1"} {
		if _, err := Parse("f", []byte(text)); err == nil || !strings.HasPrefix(err.Error(), "f:") {
			t.Errorf("Parse(%q) = %v, want an error with its place", text, err)
		}
	}
}

// A file whose aliases unfold to millions of values is refused.
func TestParseBoundsAliases(t *testing.T) {
	text := "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
	for i := range 9 {
		text += strings.NewReplacer("N", string(rune('1'+i)), "M", string(rune('0'+i))).Replace("aN: &aN [*aM, *aM, *aM, *aM, *aM, *aM, *aM, *aM, *aM, *aM]\n")
	}
	if _, err := Parse("f", []byte(text)); err == nil {
		t.Error("no error")
	}
}

func TestDecode(t *testing.T) {
	const want = "id: Kühler\n"
	utf16 := func(big bool, mark string) []byte {
		out := []byte(mark)
		for _, r := range want {
			if big {
				out = append(out, byte(r>>8), byte(r))
			} else {
				out = append(out, byte(r), byte(r>>8))
			}
		}
		return out
	}
	for name, data := range map[string][]byte{
		"UTF-8": []byte(want), "BOM": []byte("\ufeff" + want), "Windows-1252": []byte("id: K\xfchler\n"), "UTF-16 LE": utf16(false, "\xff\xfe"), "UTF-16 BE": utf16(true, "\xfe\xff"),
		"UTF-16 LE without mark": utf16(false, ""), "UTF-16 BE without mark": utf16(true, ""),
	} {
		if got, err := Decode(data); err != nil || got != want {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	if _, err := Decode([]byte("PK\x03\x04\x00\x00binary")); err == nil {
		t.Error("a binary file is read as text")
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"a: 1\n", "a: &b [1, *b]\n<<: {x: y}\n", "- {a: 34 psi}\n", "a: |\n  x\n", "\xff\xfea\x00"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		text, err := Decode(data)
		if err != nil {
			return
		}
		if _, err := Parse("f", []byte(text)); err != nil && !strings.HasPrefix(err.Error(), "f:") {
			t.Errorf("the error %q has no place", err)
		}
		_, _ = Quantity(text, Want{Unit: "kPa", Example: "1 kPa"})
		_, _ = Coefficient(text, 1)
	})
}

func TestFold(t *testing.T) {
	for name, want := range map[string]string{
		"": "", "rated_power": "rated_power", "rated power": "rated_power", " Rated - Power ": "rated___power", "Rated-Power": "rated_power", "turbo2": "turbo2",
		"Ölstand": "ölstand", "ölstand": "ölstand", "a\tb": "a_b", "a\u00a0b": "a_b", "final.drive": "final.drive",
	} {
		if got := Fold(name); got != want {
			t.Errorf("Fold(%q): got %q, want %q", name, got, want)
		}
	}
}
