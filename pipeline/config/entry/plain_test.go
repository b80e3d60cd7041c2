package entry

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

const plainFile = `# A shop's vehicles.

vehicles:
  - id: van-1
    platform: light-2l
    displacement: 2 L
    rated_power: 135 kW
    fuel: {density: 0.835 kg/L,  stoichiometric_ratio: 14.5}
    gear_ratios: [3.7, 2, 1.32 , 0.96]
    road_load: [150 N, 0.5 N/(km/h), 0.031 N/(km/h)^2]
    turbo:
      compressor_wheel: 46 mm # As measured.
      trim: -5
    note: it pulls (well), and +5 % more
  - id: truck
    duty: heavy
    tyres: 6
plain:
- a b
- 10.5
other:
    deep:
        deeper: .5
`

// What is read as the small part of YAML is what the whole reader finds, places and all.
func TestPlainIsAsWhole(t *testing.T) {
	if _, ok := parsePlain("f", plainFile); !ok {
		t.Fatal("a plain file was left to the whole reader")
	}
	r := rand.New(rand.NewPCG(1, 2))
	pieces := []string{" ", "  ", "\n", "\n  ", "-", "- ", ":", ": ", "#", " # c", ",", "[", "]", "{", "}", "'", "\"", "a", "_", "1", ".", "~", "null", "|", ">", "&a", "*a", "!t", "?", "%", "@", "\t", "\r", "é", "<<: ", "---\n", "...\n", "a: b\n", "- a\n", "id: 1", "true", "=", "\\", "`", "/", "(", "^"}
	taken := 0
	for range 12000 {
		text := []byte(plainFile)
		for range 1 + r.IntN(3) {
			at := r.IntN(len(text) + 1)
			until := min(at+r.IntN(3)*r.IntN(4), len(text))
			text = []byte(string(text[:at]) + pieces[r.IntN(len(pieces))] + string(text[until:]))
		}
		if asWhole(t, string(text)) {
			taken++
		}
	}
	if taken < 800 {
		t.Errorf("only %d files were plain", taken)
	}
}

// Short files of any order of what YAML is made of.
func TestPlainIsAsWholeInShort(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	pieces := []string{"a", "b: ", "b:", ": ", " ", "  ", "\n", "\n  ", "\n    ", "- ", "-", "[", "]", "{", "}", ", ", ",", "1", ".5", "-2", "#", " #", "null", "Null", "~", "yes", "x y", "a: b\n", "- a: b\n"}
	taken := 0
	for range 60000 {
		var text strings.Builder
		text.WriteString("k: ")
		for range 1 + r.IntN(9) {
			text.WriteString(pieces[r.IntN(len(pieces))])
		}
		if asWhole(t, text.String()) {
			taken++
		}
	}
	if taken < 500 {
		t.Errorf("only %d files were plain", taken)
	}
}

// A file may have as many values for both readers.
func TestPlainIsBound(t *testing.T) {
	for n, want := range map[int]bool{maxValues - 3: true, maxValues - 2: false} { // The map, the name and the list are three.
		text := "list: [" + strings.TrimSuffix(strings.Repeat("1, ", n), ", ") + "]\n"
		_, plain := parsePlain("f", text)
		if _, err := parseWhole("f", []byte(text)); plain != want || (err == nil) != want {
			t.Errorf("%d values: plain %v, error %v, want %v", n, plain, err, want)
		}
	}
}

// asWhole compares the two readers, and tells whether the small one took the file.
func asWhole(t *testing.T, text string) bool {
	t.Helper()
	got, ok := parsePlain("f", text)
	if !ok {
		return false
	}
	want, err := parseWhole("f", []byte(text))
	if d := cmp.Diff(want, got); d != "" || err != nil {
		t.Fatalf("%q: %v\n%s", text, err, d)
	}
	return true
}

func BenchmarkParse(b *testing.B) {
	var text strings.Builder
	text.WriteString("vehicles:\n")
	_, one, _ := strings.Cut(plainFile, "vehicles:\n")
	one, _, _ = strings.Cut(one, "plain:")
	for i := range 50 {
		text.WriteString(strings.ReplaceAll(one, "van-1", fmt.Sprint("van-", i)))
	}
	for name, read := range map[string]func() error{
		"plain": func() error { _, err := Parse("f", []byte(text.String())); return err },
		"whole": func() error { _, err := parseWhole("f", []byte(text.String())); return err },
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := read(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
