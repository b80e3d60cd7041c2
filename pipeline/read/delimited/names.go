package delimited

import (
	"strings"
	"unicode"

	"dynolake/schema"
)

// splitName parts a header text into name and unit: Time[s], Speed (km/h), n in rpm, FC [(g/h)/kW_rated], Boost, kPa. Square
// brackets at the end always hold a unit; round ones, "in" and a comma only before what is known as one, so that Boost (abs)
// and Torque, engine stay whole.
func splitName(header string) (name, unit string) {
	h := strings.TrimSpace(header)
	if i := strings.IndexByte(h, '['); i > 0 {
		if j := closing(h, i); j > 0 {
			inner, rest := strings.TrimSpace(h[i+1:j]), strings.TrimSpace(h[j+1:])
			if rest == "" && !index(h, i, inner) {
				return strings.TrimSpace(h[:i]), inner
			}
			if _, ok := schema.ParseUnit(inner); ok && rest != "" && !index(h, i, inner) {
				return strings.TrimSpace(h[:i]) + " " + rest, inner
			}
		}
	}
	if i := strings.LastIndexByte(h, '('); i > 0 {
		i = opening(h, i)
		if j := closing(h, i); j == len(h)-1 {
			inner := strings.TrimSpace(h[i+1 : j])
			if name, unit := zeroAside(h[:i], inner); unit != "" {
				return name, unit
			}
			if unitLike(inner) {
				return strings.TrimSpace(h[:i]), inner
			}
		}
	}
	for _, sep := range []string{" in ", ", ", ",", " / ", " - "} {
		if i := strings.LastIndex(h, sep); i > 0 {
			if tail := strings.TrimSpace(h[i+len(sep):]); known(tail) && (sep != " - " || len(tail) > 1) {
				return strings.TrimSpace(h[:i]), tail
			}
		}
	}
	if i := strings.IndexByte(h, '<'); i > 0 && strings.HasSuffix(h, ">") {
		if inner := strings.TrimSpace(h[i+1 : len(h)-1]); unitLike(inner) {
			return strings.TrimSpace(h[:i]), inner
		}
	}
	return h, ""
}

// zeroAside reads a pressure's unit that says its zero in brackets: Boost psi (g), p2, bar(a).
func zeroAside(h, inner string) (name, unit string) {
	switch strings.ToLower(inner) {
	case "a", "g", "abs", "gauge", "absolute":
	default:
		return "", ""
	}
	h = strings.TrimSpace(h)
	i := strings.LastIndexAny(h, " _")
	if i < 0 {
		return "", ""
	}
	if u, ok := schema.ParseUnit(h[i+1:] + inner); !ok || u.Quantity != "pressure" {
		return "", ""
	}
	name = strings.TrimRight(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(h[:i]), " in")), ",-/ _")
	return name, h[i+1:] + "(" + inner + ")"
}

// index reports a bracket that numbers an element, such as EGT[2], and names no unit.
func index(h string, at int, inner string) bool {
	if inner == "" {
		return false
	}
	digits := strings.IndexFunc(inner, func(r rune) bool { return !unicode.IsDigit(r) }) < 0
	return digits && (inner != "1" || h[at-1] != ' ')
}

// closing finds the bracket that closes the one at i, or -1.
func closing(h string, i int) int {
	depth := 0
	for j := i; j < len(h); j++ {
		switch h[j] {
		case '[', '(':
			depth++
		case ']', ')':
			if depth--; depth == 0 {
				return j
			}
		}
	}
	return -1
}

// opening moves from a bracket to the outermost one around it: (g/kWh)(net) stays two, ((g/h)/kW) is one.
func opening(h string, i int) int {
	for j := i - 1; j >= 0; j-- {
		if h[j] == '(' && closing(h, j) == len(h)-1 {
			i = j
		}
	}
	return i
}

func known(s string) bool {
	_, ok := schema.ParseUnit(s)
	return ok && strings.IndexFunc(s, unicode.IsDigit) != 0 || strings.HasPrefix(s, "1/")
}

// timeUnits are spellings beside a time that say how it is written; they are no units of measurement.
var timeUnits = map[string]bool{"hh:mm:ss": true, "h:mm:ss": true, "hh:mm:ss.s": true, "hh:mm:ss.ss": true, "hh:mm:ss.sss": true, "hh:mm:ss.fff": true, "mm:ss": true, "m:ss": true, "mm:ss.s": true,
	"mm:ss.0": true, "hh:mm:ss,sss": true, "h:m:s": true, "hms": true, "m:s": true, "hh:mm": true, "date": true, "d": true, "days": true, "day": true, "utc": true}

// unitLike reports a text that is a known unit or is built as one: no blanks, with a slash, a percent or a degree sign.
func unitLike(s string) bool {
	if s == "" || len(s) > 24 {
		return false
	}
	if known(s) || timeUnits[strings.ToLower(s)] || s == "1" || strings.TrimLeft(s, "-–") == "" {
		return true
	}
	return !strings.Contains(s, " ") && strings.ContainsAny(s, "/%°^²³·€") && strings.IndexFunc(s, unicode.IsLetter) >= 0 && !strings.ContainsAny(s, ",;")
}

// bare takes brackets and quotes off a units-row cell.
func bare(s string) string {
	s = strings.TrimSpace(s)
	for _, p := range []string{"[]", "()", "<>", "{}"} {
		if len(s) >= 2 && s[0] == p[0] && s[len(s)-1] == p[1] && (p == "[]" || closing(s, 0) == len(s)-1 || p == "<>" || p == "{}") {
			return strings.TrimSpace(s[1 : len(s)-1])
		}
	}
	return s
}

// words are the lower-case tokens of a name, parted at blanks, signs, digits and humps: cycSecs is cyc and secs.
func words(name string) []string {
	var out []string
	var cur []rune
	flush := func() {
		if len(cur) > 0 {
			out = append(out, strings.ToLower(string(cur)))
			cur = cur[:0]
		}
	}
	prev := rune(0)
	runes := []rune(name)
	for i, r := range runes {
		switch {
		case !unicode.IsLetter(r) && r != 'µ' && r != 'μ':
			flush()
		case unicode.IsUpper(r) && (unicode.IsLower(prev) || unicode.IsUpper(prev) && i+1 < len(runes) && unicode.IsLower(runes[i+1])):
			flush()
			cur = append(cur, r)
		default:
			cur = append(cur, r)
		}
		prev = r
	}
	flush()
	return out
}

// timeCore are the words that name a time by themselves, in the languages of recorders.
var timeCore = set(`time times t zeit timestamp zeitstempel timestamps seconds secs sec second sekunden sek s ms msec msecs millis millisecond milliseconds millisekunden
	us usec microseconds micros ns minutes elapsed date datum datetime uhrzeit messzeit logzeit laufzeit zeitpunkt tiempo temps tempo tijd tid czas cas aika ido
	fecha hora heure horodatage clock epoch tod время дата час timesec timems times timeus tstamp ts`)

// timeAside are the words that may stand beside one of them.
var timeAside = set(`log logger logged frame total test cycle cyc record recording recorder rec sample sampling abs absolute rel relative local utc gmt gps system sys pc host device
	real start session measurement measured mess meas run unix posix of day from the x offset stamp in at since begin beginning elapsed zero h min m hh mm ss yyyy dd iso
	rel. abs. datei lokal start absolut relativ seit beginn aufnahme running data daq obd dyno can bus ecu`)

// timeNot are words that make a time of something else out of it: a duration, a delay.
var timeNot = set(`step timestep delta dt diff difference injection inj duration dwell delay response constant open opening period interval pulse width remaining left average avg regen fill rise lag gap`)

func set(s string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(s) {
		m[w] = true
	}
	return m
}

// timeName says how surely a name means the time of a row: 2 it says nothing else, 1 it mentions time, 0 it does not.
func timeName(name string) int {
	ws := words(name)
	core, other, not := false, false, false
	for i, w := range ws {
		switch {
		case timeCore[w]:
			core = true
		case w == "time" || timeAside[w]:
		default:
			other = true
		}
		not = not || timeNot[w] || w == "step" && i > 0
	}
	switch {
	case len(ws) == 1 && (ws[0] == "offset" || ws[0] == "interval"):
		return 1
	case core && !other && !not:
		return 2
	case not:
		return 0
	case core:
		return 1
	}
	for _, w := range ws {
		if strings.Contains(w, "time") || strings.Contains(w, "zeit") || strings.HasSuffix(w, "secs") {
			return 1
		}
	}
	return 0
}

// secondsPer gives the length in seconds of a time unit's spelling, 0 for what is no time unit.
func secondsPer(unit string) float64 {
	switch strings.ToLower(strings.TrimSpace(unit)) {
	case "d", "day", "days", "tage":
		return 86400
	case "sekunden", "segundos", "secondes", "s.", "sec.", "сек", "с":
		return 1
	case "millis", "millisekunden", "milisegundos", "msecs", "мс":
		return 1e-3
	case "micros":
		return 1e-6
	}
	u, ok := schema.ParseUnit(unit)
	if !ok || u.Quantity != "time" {
		return 0
	}
	return u.Factor
}

// unitInName finds a time unit that a clock's name itself says: time_ms, cycSecs, SECONDS, t_s.
func unitInName(name string) string {
	ws := words(name)
	for i := len(ws) - 1; i >= 0; i-- {
		w := strings.TrimPrefix(ws[i], "time")
		if w == "" || w == "t" || w == "h" && len(ws) == 1 {
			continue
		}
		if secondsPer(w) > 0 && w != "d" && w != "day" {
			return w
		}
	}
	return ""
}
