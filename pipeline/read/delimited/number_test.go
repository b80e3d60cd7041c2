package delimited

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// Every plain decimal must be strconv.ParseFloat's float to the last bit.
func TestPlainEqualsParseFloat(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	check := func(s string) {
		t.Helper()
		n := numerals{point: '.', tally: newTally("x")}
		want, err := strconv.ParseFloat(s, 64)
		got, ok := n.parse([]byte(s), 1)
		if err != nil || !ok || math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%q: %v (%v), want %v (%v)", s, got, ok, want, err)
		}
	}
	for _, s := range []string{"0", "-0", "-0.0", "+5", ".5", "5.", "-.25", "9007199254740993", "9007199254740992", "0.1", "123456789012345678901234567890", "0.000000000000000000000001",
		"18446744073709551616", "99999999999999999999.5", "1e5", "1E-7", "-4.5e+2", "5e-324", "1.7976931348623157e308", "0.30000000000000004", "1.00000000000000011102230246251565", "2.2250738585072011e-308"} {
		check(s)
	}
	for range 200_000 {
		digits := rng.IntN(22) + 1
		s := make([]byte, digits)
		for i := range s {
			s[i] = byte('0' + rng.IntN(10))
		}
		text := string(s)
		if decimals := rng.IntN(digits + 1); decimals > 0 {
			text = text[:digits-decimals] + "." + text[digits-decimals:]
		}
		if rng.IntN(3) == 0 {
			text = "-" + text
		}
		if rng.IntN(8) == 0 {
			text += fmt.Sprintf("e%d", rng.IntN(40)-20)
		}
		check(text)
		check(strconv.FormatFloat(rng.NormFloat64()*math.Pow10(rng.IntN(30)-15), 'g', -1, 64))
	}
}

func TestParseWrittenNumbers(t *testing.T) {
	for _, c := range []struct {
		cell  string
		point byte
		want  float64
	}{
		{"1,5", ',', 1.5}, {"-1,5", ',', -1.5}, {"1.234,5", ',', 1234.5}, {"1,234.5", '.', 1234.5}, {"1,234", '.', 1234}, {"1.234", ',', 1234}, {"1,234", ',', 1.234}, {"1,234", unseen, 1.234},
		{"0,125", '.', 0.125}, {"1 234,5", ',', 1234.5}, {"1'234.5", '.', 1234.5}, {"1\u00a0234,5", ',', 1234.5}, {"1\u202f234", '.', 1234}, {"\u22125,5", ',', -5.5}, {"1,234,567", '.', 1234567},
		{"1.234.567", ',', 1234567}, {"1.234.567", unseen, 1234567}, {"12,5", '.', 12.5}, {"3.14", ',', 3.14}, {"1,5E+3", ',', 1500}, {"\xa05", '.', math.NaN()}, {"1\xa0234", '.', 1234},
		{"1,2,3", '.', math.NaN()}, {"05.03.2019", '.', math.NaN()}, {"192.168.1.1", '.', math.NaN()}, {"0x1F", '.', math.NaN()}, {"1e", '.', math.NaN()}, {"", '.', math.NaN()}, {"-", '.', math.NaN()},
		{"inf", '.', math.NaN()}, {"1e999", '.', math.NaN()}, {"12 34", '.', math.NaN()}, {"1_000", '.', math.NaN()}, {"1.2.3", '.', math.NaN()}, {"--5", '.', math.NaN()}, {"5 V", '.', math.NaN()},
	} {
		n := numerals{point: c.point, tally: newTally("x")}
		got, ok := n.parse([]byte(c.cell), 1)
		if !ok {
			got = math.NaN()
		}
		if got != c.want && !(math.IsNaN(got) && math.IsNaN(c.want)) {
			t.Errorf("%q in a file with %q: %v, want %v", c.cell, c.point, got, c.want)
		}
	}
}

func TestVoids(t *testing.T) {
	for cell, want := range map[string]kind{"": empty, "NaN": missing, "n.a.": missing, "#N/A": missing, "-": missing, "-Inf": infinite, "1.#QNAN0": missing, "1.#INF00": infinite, "ON": word, "ERROR": word, "none": word, "12": number, "14:02:11": moment, strings.Repeat("x", 99): word} {
		if got := kindOf([]byte(cell)); got != want {
			t.Errorf("kindOf(%q) = %d, want %d", cell, got, want)
		}
	}
}

func TestQuickEqualsPlain(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	alphabet := []byte("0123456789.,-+eE;\n\xff\xb0 0123456789")
	for range 300_000 {
		b := make([]byte, 40)
		for i := range b {
			b[i] = alphabet[rng.IntN(len(alphabet))]
		}
		got, end := quick(b, 0, '.')
		want, at := plain(b, 0, '.')
		if end != 0 && (end != at || math.Float64bits(got) != math.Float64bits(want)) {
			t.Fatalf("%q: %v up to %d, want %v up to %d", b, got, end, want, at)
		}
	}
}
