package delimited

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"dynolake/schema"
)

const (
	maxNotes = 10000 // Preamble lines kept.
	maxFacts = 400   // Of these, key and value pairs looked through for a date and a rate.
	maxNote  = 4096  // Bytes of one note.
)

// notes hands preamble lines to the sink and remembers what may date or time the table.
type notes struct {
	sink    schema.Sink
	tally   *tally
	n       int
	facts   [][2]string
	unclear bool // A date that could be read two ways was reported.
}

func (n *notes) add(line []byte, delim byte, at int) {
	line = trim(line)
	if len(line) == 0 {
		return
	}
	if n.n++; n.n > maxNotes {
		n.tally.add("preamble_cut", at, nil)
		return
	}
	key, value := keyValue(line[:min(len(line), maxNote)], delim)
	n.sink.Note(key, value)
	if len(n.facts) < maxFacts {
		n.facts = append(n.facts, [2]string{key, value})
	}
}

// keyValue parts a preamble line: key;value and key;value;unit by the table's delimiter, key: value and key = value. Any other
// line is kept whole under an empty key.
func keyValue(line []byte, delim byte) (key, value string) {
	whole := text(line)
	if delim != blanks {
		cells, _ := split(line, delim, false, nil)
		var filled []string
		for _, c := range cells {
			if len(c) > 0 {
				filled = append(filled, text(c))
			}
		}
		key := ""
		if len(filled) > 1 {
			key = strings.TrimSpace(strings.TrimRight(strings.TrimLeft(filled[0], "#%/*! "), ":= "))
		}
		switch {
		case key == "" || len(filled) > 3:
		case len(filled) == 2:
			return key, filled[1]
		case unitLike(bare(filled[2])):
			return key, filled[1] + " " + filled[2]
		}
		if len(filled) == 1 {
			whole = filled[0]
		}
	}
	bareLine := strings.TrimLeft(whole, "#%/*! \t")
	for _, sep := range []string{": ", ":\t", " = ", "="} {
		if k, v, ok := strings.Cut(bareLine, sep); ok && k != "" && len(k) <= 60 && strings.TrimSpace(v) != "" {
			return strings.TrimSpace(k), strings.TrimSpace(v)
		}
	}
	return "", whole
}

// rate finds a stated sample rate and gives its period in seconds, 0 without one.
func rate(facts [][2]string) float64 {
	for _, f := range facts {
		key := strings.ToLower(f[0])
		if !containsAny(key, "sampl", "abtast", "log", "rate", "frequen", "acquisition", "échantillon", "mess", "scan", "time step") || containsAny(key, "baud", "bit", "heart", "flow", "fuel") {
			continue
		}
		if p := period(key, f[1]); p > 0 {
			return p
		}
	}
	return 0
}

// period reads 50 Hz, 0.02 s under a key that speaks of an interval, or a bare number under one that speaks of a rate.
func period(key, value string) float64 {
	x := leading(value)
	unit := strings.ToLower(strings.TrimSpace(strings.TrimLeft(strings.TrimSpace(value), "+-.,0123456789eE")))
	switch {
	case x <= 0:
	case containsAny(key, "interval", "period", "step", "abtastzeit", "delta t"):
		return x * secondsPer(unit)
	case unit == "khz":
		return 1e-3 / x
	case slices.Contains([]string{"hz", "1/s", "s/s", "sps", "samples/s", "samples per second"}, unit) || unit == "" && containsAny(key, "hz", "rate", "frequen"):
		return 1 / x
	}
	return 0
}

func leading(s string) float64 {
	b := []byte(strings.ReplaceAll(strings.TrimSpace(s), ",", "."))
	v, _ := plain(b, 0, '.')
	return v
}

func containsAny(s string, parts ...string) bool {
	for _, p := range parts {
		if strings.Contains(s, p) {
			return true
		}
	}
	return false
}

// started finds when the recording began, as the preamble says it: a date with a time, or a date and a time on two lines. A
// date that could be read two ways is none, and is returned as from.
func started(facts [][2]string) (when time.Time, zoned, timed bool, from string) {
	unclear := ""
	var date, clock *stamp
	var dateFrom string
	for _, f := range facts {
		key := strings.ToLower(f[0])
		if !containsAny(key, "date", "datum", "time", "zeit", "start", "record", "begin", "begonnen", "created", "fecha", "fecha", "hora", "heure", "log") ||
			containsAny(key, "calib", "print", "export", "version", "build", "expire", "due", "install", "end", "stop", "duration", "timezone", "time zone", "software", "service") {
			continue
		}
		s, ok := parseStamp([]byte(strings.TrimSpace(f[1])), false)
		switch {
		case !ok:
		case s.order == either:
			unclear = f[0] + ": " + f[1]
		case s.hasDate && s.hasTime:
			return time.Unix(0, s.at()).UTC(), s.zoned, true, f[0] + ": " + f[1]
		case s.hasDate && date == nil:
			date, dateFrom = &s, f[0]+": "+f[1]
		case s.hasTime && s.parts == 3 && clock == nil:
			clock = &s
		}
	}
	if date == nil {
		return time.Time{}, false, false, unclear
	}
	if clock == nil {
		return time.Unix(0, date.at()).UTC(), false, false, dateFrom
	}
	return time.Unix(0, date.at()+clock.nanos).UTC(), clock.zoned, true, dateFrom
}

// date puts t = 0 of a clock without a date on what the preamble says.
func (n *notes) date(k *clock, line int) {
	if !k.start.IsZero() || k.form == dateTime || k.form == dateAside {
		return
	}
	when, zoned, timed, from := started(n.facts)
	switch {
	case when.IsZero():
		if from != "" && !n.unclear {
			n.unclear = true
			n.sink.Find(n.tally.finding(schema.Doubt, "start_ambiguous", k.name,
				fmt.Sprintf("%s:%d:1 %s: day and month of %q before the table could be either way round: it dates nothing; state the start in a run sheet", n.tally.source, line, k.name, from), math.NaN(), ""))
		}
		return
	case k.form == timeOfDay:
		when = when.Truncate(24 * time.Hour)
	case !timed:
		return // A day alone does not say when t = 0 was.
	}
	k.start, k.zoned = when, zoned
	n.sink.Find(n.tally.finding(schema.Note, "start_from_preamble", k.name,
		fmt.Sprintf("%s:%d:1 %s: the clock carries no date; %q before the table is taken for the moment of t = 0", n.tally.source, line, k.name, from), 0, "s"))
}
