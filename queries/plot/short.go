package plot

import (
	"slices"
	"strings"
	"unicode"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// fit shortens a text to a width, with a sign in its middle: names differ at their ends.
func fit(style draw.TextStyle, s string, most vg.Length) string {
	if style.Width(s) <= most {
		return s
	}
	runes := []rune(s)
	for n := len(runes) - 2; n > 1; n-- {
		tail := n / 2
		short := string(runes[:n-tail]) + "…" + string(runes[len(runes)-tail:])
		if style.Width(short) <= most {
			return short
		}
	}
	return "…"
}

// fitApart shortens names to the room for labels. Those that would come out alike begin where they differ.
func fitApart(style draw.TextStyle, names []string) []string {
	alike := map[string][]string{}
	for _, s := range names {
		short := fit(style, s, labelWidth)
		if !slices.Contains(alike[short], s) {
			alike[short] = append(alike[short], s)
		}
	}
	out := make([]string, len(names))
	for i, s := range names {
		out[i] = fit(style, s, labelWidth)
		if n := shared(alike[out[i]]); n > 0 {
			out[i] = fitHead(style, "…"+string([]rune(s)[n:]), labelWidth)
		}
	}
	return out
}

func (p Panel) names() []string {
	names := make([]string, len(p.Series))
	for i, s := range p.Series {
		names[i] = s.Name
	}
	return names
}

// shared is how many runes several names begin with alike, up to the word in which they differ; 0 for one name.
func shared(names []string) int {
	if len(names) < 2 {
		return 0
	}
	first, n := []rune(names[0]), len([]rune(names[0]))
	for _, s := range names[1:] {
		k := 0
		for _, r := range s {
			if k >= n || first[k] != r {
				break
			}
			k++
		}
		n = k
	}
	for n > 0 && n < len(first) && (unicode.IsLetter(first[n-1]) || unicode.IsDigit(first[n-1])) {
		n--
	}
	return n
}

// fitHead shortens a text to a width by its end.
func fitHead(style draw.TextStyle, s string, most vg.Length) string {
	if style.Width(s) <= most {
		return s
	}
	runes := []rune(s)
	for n := len(runes) - 1; n > 1; n-- {
		if short := strings.TrimRight(string(runes[:n]), " –-,(") + "…"; style.Width(short) <= most {
			return short
		}
	}
	return "…"
}
