package plot

import (
	"math"
	"testing"
)

// linear gives a colour's channels as light, by IEC 61966-2-1 (sRGB).
func linear(hex string) [3]float64 {
	c := rgb(hex)
	var out [3]float64
	for i, v := range []uint8{c.R, c.G, c.B} {
		x := float64(v) / 255
		if x <= 0.04045 {
			out[i] = x / 12.92
		} else {
			out[i] = math.Pow((x+0.055)/1.055, 2.4)
		}
	}
	return out
}

func luminance(c [3]float64) float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] }

// contrast is the contrast ratio of WCAG 2.2.
func contrast(a, b string) float64 {
	x, y := luminance(linear(a)), luminance(linear(b))
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// The two published figures of WCAG 2.2 hold the formula: black on white is 21:1, and #767676 on white the lightest grey at 4.5:1.
func TestContrastFormula(t *testing.T) {
	if c := contrast("#000000", "#ffffff"); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white: %v", c)
	}
	if a, b := contrast("#767676", "#ffffff"), contrast("#777777", "#ffffff"); a < 4.5 || b >= 4.5 {
		t.Errorf("#767676 gives %v, #777777 gives %v", a, b)
	}
}

func TestColoursCanBeRead(t *testing.T) {
	for name, c := range map[string]Colours{"light": Light(), "dark": Dark()} {
		texts := append([]string{c.Ink, c.Quiet, c.Bound}, c.Series[:]...)
		for _, hex := range texts {
			if got := contrast(hex, c.Paper); got < 4.5 {
				t.Errorf("%s: %s on %s has a contrast of %.2f, want 4.5", name, hex, c.Paper, got)
			}
		}
	}
}

// lab is CIE 1976 L*a*b* of linear sRGB under D65.
func lab(c [3]float64) [3]float64 {
	x := (0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2]) / 0.9505
	y := luminance(c)
	z := (0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]) / 1.089
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return [3]float64{116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))}
}

// Full protanopia, deuteranopia and tritanopia, Machado, Oliveira and Fernandes 2009, table for severity 1.0, on linear sRGB (from memory).
func sights() map[string][3][3]float64 {
	return map[string][3][3]float64{
		"all colours":  {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
		"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
		"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	}
}

// Any two looks are told apart by colour however colours are seen, the first four, which most panels have, with ease.
func TestColoursDiffer(t *testing.T) {
	for name, c := range map[string]Colours{"light": Light(), "dark": Dark()} {
		for sight, m := range sights() {
			var seen [maxSeries][3]float64
			for i, hex := range c.Series {
				l := linear(hex)
				var out [3]float64
				for k := range 3 {
					out[k] = math.Max(0, math.Min(1, m[k][0]*l[0]+m[k][1]*l[1]+m[k][2]*l[2]))
				}
				seen[i] = lab(out)
			}
			for i := range maxSeries {
				for j := range i {
					want := 18.0
					if i < 4 {
						want = 30
					}
					d := math.Hypot(math.Hypot(seen[i][0]-seen[j][0], seen[i][1]-seen[j][1]), seen[i][2]-seen[j][2])
					if d < want {
						t.Errorf("%s, %s: looks %d and %d differ by %.1f in L*a*b*, want %.0f", name, sight, j, i, d, want)
					}
				}
			}
		}
	}
}

// Every look has its own pattern and its own marker.
func TestLooksDifferWithoutColour(t *testing.T) {
	for i := range maxSeries {
		for j := range i {
			a, b := dash(i), dash(j)
			same := len(a) == len(b)
			for k := range a {
				same = same && k < len(b) && a[k] == b[k]
			}
			if same {
				t.Errorf("looks %d and %d have one pattern", j, i)
			}
			if swatch(i) == swatch(j) {
				t.Errorf("looks %d and %d have one swatch", j, i)
			}
		}
	}
}

// swatch is a look's marker alone, drawn in the colour of none.
func swatch(look int) string {
	c := Chart{kind: "points"}
	return standInless(c.swatch(look))
}
