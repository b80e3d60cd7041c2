package mapping

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

var letters = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss", "Ä", "Ae", "Ö", "Oe", "Ü", "Ue", "é", "e", "è", "e", "ê", "e", "É", "E", "á", "a", "à", "a", "â", "a", "í", "i", "î", "i", "ó", "o", "ô", "o", "ú", "u", "û", "u", "ñ", "n", "ç", "c", "d'", "", "D'", "", "l'", "", "L'", "", "d’", "", "l’", "", "λ", " lambda ", "Λ", " lambda ", "Δ", " delta ", "∆", " delta ", "δ", " delta ", "²", "2", "³", "3", "⁻", "-", "¹", "1", "℃", " degC ", "℉", " degF ")

// unitEnd finds a unit of mixed case glued to a name, before the name is split where its case changes.
var unitEnd = regexp.MustCompile(`(kPa|MPa|hPa|inHg|mmHg|inH2O|inH2o|kW|Nm|kNm|degC|degF|kmh|mph|RPM|PSI|PSIA|PSIG)(abs|Abs|g|a)?$`)

// tokens splits a name into lower-case words: at everything that is no letter or digit, where a run of two letters or more
// meets a digit, and, with camel, where the case changes.
func tokens(name string, camel bool) []string {
	name = letters.Replace(name)
	if camel {
		name = unitEnd.ReplaceAllStringFunc(name, func(u string) string { return " " + strings.ToLower(u) })
	}
	var out []string
	var word []rune
	flush := func() {
		if len(word) > 0 {
			out = append(out, strings.ToLower(string(word)))
		}
		word = word[:0]
	}
	rs := []rune(name)
	for i, r := range rs {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			flush()
			if r == '%' {
				out = append(out, "%")
			}
			continue
		}
		if len(word) > 0 && splits(word, r, i+1 < len(rs) && unicode.IsLower(rs[i+1]), camel) {
			flush()
		}
		word = append(word, r)
	}
	flush()
	return out
}

// splits reports whether a new word begins with r. next tells that a small letter follows r.
func splits(word []rune, r rune, next, camel bool) bool {
	last := word[len(word)-1]
	switch {
	case unicode.IsLetter(last) && unicode.IsDigit(r):
		return len(word) > 1 && unicode.IsLetter(word[len(word)-2]) // egt1 is egt 1, but t3 stays t3.
	case unicode.IsDigit(last) && unicode.IsLetter(r):
		return next || len(word) > 2 // h2o stays whole.
	case camel && unicode.IsUpper(r):
		return unicode.IsLower(last) || (next && unicode.IsUpper(last))
	}
	return false
}

// canonical writes words out: what is run together is taken apart, abbreviations become the words they stand for.
func (w words) canonical(raw []string) []string {
	var out []string
	for _, t := range raw {
		for _, part := range w.apart(t) {
			if to, ok := w.to[part]; ok {
				out = append(out, to...)
			} else {
				out = append(out, part)
			}
		}
	}
	for _, p := range w.phrases {
		out = replace(out, p)
	}
	if slices.Contains(out, "exhaust") { // Before the turbo, on the exhaust's side, is before its turbine.
		for i, t := range out {
			if t == "turbo" {
				out[i] = "turbine"
			}
		}
	}
	return out
}

func replace(list []string, p phrase) []string {
	for i := 0; i+len(p.Words) <= len(list); i++ {
		if slices.Equal(list[i:i+len(p.Words)], p.Words) {
			list = slices.Concat(list[:i], strings.Fields(p.Is), list[i+len(p.Words):])
		}
	}
	return list
}

// longest is the length in bytes above which a word is no longer taken apart.
const longest = 64

// apart splits a word that is made of known words of three letters and more; any other stays as it is.
func (w words) apart(word string) []string {
	if len(word) < 6 || len(word) > longest || w.vocabulary[word] {
		return []string{word}
	}
	best := make([][]string, len(word)+1)
	best[0] = []string{}
	for end := 3; end <= len(word); end++ {
		for start := 0; start <= end-3; start++ {
			if best[start] != nil && w.vocabulary[word[start:end]] && (best[end] == nil || len(best[start])+1 < len(best[end])) {
				best[end] = append(slices.Clone(best[start]), word[start:end])
			}
		}
	}
	if best[len(word)] == nil {
		return []string{word}
	}
	return best[len(word)]
}

// key is a name brought into a form that can be compared: fillers and words on the zero dropped, order kept.
type key struct {
	words    []string
	dropped  int    // Fillers left out.
	absolute bool   // The name says absolute.
	gauge    bool   // The name says gauge or relative.
	computed bool   // The name says that the figure is worked out.
	vanes    string // "open" or "closed" where the name says which end is 100 %.
}

// statedEnd finds an end of a travel spelt as an equation: 0=closed, 100 % = open, 100: fully closed.
var statedEnd = regexp.MustCompile(`(?i)\b(100|0)\s*%?\s*(?:=|:|->|→)\s*(?:fully |full )?([a-z]+)`)

// ends words an equation of a travel's end as the end that is 100 %.
func ends(name string) string {
	return statedEnd.ReplaceAllStringFunc(name, func(eq string) string {
		m := statedEnd.FindStringSubmatch(eq)
		switch at := directions[strings.ToLower(m[2])]; {
		case at == "":
			return eq
		case m[1] == "100":
			return at
		case at == "open":
			return "closed"
		default:
			return "open"
		}
	})
}

var directions = map[string]string{"open": "open", "opening": "open", "opened": "open", "offen": "open", "closed": "closed", "closing": "closed", "close": "closed", "closure": "closed", "geschlossen": "closed"}

func (w words) key(canonical []string) key {
	var k key
	for _, t := range canonical {
		switch {
		case t == "absolute":
			k.absolute = true
		case t == "gauge":
			k.gauge = true
		case w.filler[t] || t == "%":
			k.dropped++
		case directions[t] != "":
			k.vanes = directions[t]
			k.words = append(k.words, t)
		default:
			k.computed = k.computed || w.computed[t]
			k.words = append(k.words, t)
		}
	}
	if len(k.words) == 0 { // All fillers: the words themselves are the name.
		k.words, k.dropped = canonical, 0
	}
	return k
}

// without gives the key without one kind of word.
func (k key) without(drop func(string) bool) key {
	k.words = slices.DeleteFunc(slices.Clone(k.words), drop)
	return k
}

// sorted is the key whatever the order of its words.
func (k key) sorted() string {
	s := slices.Clone(k.words)
	slices.Sort(s)
	return strings.Join(slices.Compact(s), " ")
}
