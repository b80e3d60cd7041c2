package demo

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"

	"golang.org/x/text/encoding/charmap"
)

// dialect is how a recorder writes delimited text.
type dialect struct {
	delimiter string
	comma     bool   // Decimal comma.
	units     string // [ or (: behind the name in such brackets; row: a row of their own; column: long form's.
	clock     string // s, ms, m:s, clock or stamp.
	timeName  string
	encoding  string // utf8, bom, utf16le, utf16be or cp1252.
	crlf      bool
	quoted    bool
	trailing  bool // A delimiter at the end of each line.
	repeated  bool // The names come again in the middle.
	states    bool // Gear and lock-up as words.
	blanks    float64
	missing   string // What stands for a missing value.
	preamble  []string
}

// words names the quirks.
func (d dialect) words() []string {
	out := []string{d.encoding, "clock " + d.clock, "units " + d.units, "delimiter " + map[string]string{",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}[d.delimiter]}
	for _, q := range []struct {
		on   bool
		word string
	}{
		{d.comma, "decimal comma"}, {d.crlf, "crlf"}, {d.quoted, "quoted"}, {d.trailing, "trailing delimiter"}, {d.repeated, "repeated header"},
		{d.states, "text states"}, {d.blanks > 0 && d.missing == "", "blanks"}, {d.blanks > 0 && d.missing != "", "missing as text"}, {len(d.preamble) > 0, "preamble"},
	} {
		if q.on {
			out = append(out, q.word)
		}
	}
	return out
}

// number writes a value.
func (d dialect) number(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.TrimLeft(s, "-0.") == "" { // No minus before a zero.
		s = strings.TrimPrefix(s, "-")
	}
	if d.comma {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// cell writes a reading, a state as its word where the dialect has words.
func (d dialect) cell(s *sensor, x float64) string {
	switch {
	case d.states && s.column == "gear":
		if x == 0 {
			return "N"
		}
		return strconv.Itoa(int(x))
	case d.states && s.column == "converter_locked_frac":
		if x >= 0.5 {
			return "Locked"
		}
		return "Open"
	case s.column == "gear" || s.column == "converter_locked_frac":
		return strconv.Itoa(int(math.Round(x)))
	}
	return d.number(x, s.decimals)
}

// stamp writes a recorder's own time, t seconds on its clock; start is the instant of t = 0.
func (d dialect) stamp(t float64, start time.Time) string {
	switch d.clock {
	case "ms":
		return strconv.Itoa(int(math.Round(t * 1000)))
	case "m:s":
		hundredths := int(math.Round(t * 100))
		return fmt.Sprintf("%02d:%02d.%02d", hundredths/6000, hundredths/100%60, hundredths%100)
	case "clock":
		return start.Add(time.Duration(math.Round(t*1000)) * time.Millisecond).Format("15:04:05.000")
	case "stamp":
		return start.Add(time.Duration(math.Round(t*1000)) * time.Millisecond).In(shopZone()).Format("2006-01-02T15:04:05.000-07:00")
	}
	return d.number(t, 3)
}

// title is a channel's name with its unit as the dialect puts it.
func (d dialect) title(name, unit string) string {
	switch {
	case unit == "" || d.units == "row" || d.units == "column":
		return name
	case d.units == "(":
		return name + " (" + unit + ")"
	}
	return name + " [" + unit + "]"
}

// timeUnit is what stands as the unit of the clock.
func (d dialect) timeUnit() string {
	if d.clock == "s" || d.clock == "ms" {
		return d.clock
	}
	return ""
}

// line joins cells.
func (d dialect) line(b *strings.Builder, cells []string) {
	for i, c := range cells {
		if i > 0 {
			b.WriteString(d.delimiter)
		}
		if d.quoted {
			c = `"` + c + `"`
		}
		b.WriteString(c)
	}
	if d.trailing {
		b.WriteString(d.delimiter)
	}
	if d.crlf {
		b.WriteByte('\r')
	}
	b.WriteByte('\n')
}

// encode turns the text into the dialect's bytes.
func (d dialect) encode(text string) ([]byte, error) {
	switch d.encoding {
	case "bom":
		return append([]byte{0xEF, 0xBB, 0xBF}, text...), nil
	case "cp1252":
		return charmap.Windows1252.NewEncoder().Bytes([]byte(text))
	case "utf16le", "utf16be":
		words := utf16.Encode([]rune("\uFEFF" + text))
		out := make([]byte, 0, 2*len(words))
		for _, w := range words {
			if d.encoding == "utf16le" {
				out = append(out, byte(w), byte(w>>8))
			} else {
				out = append(out, byte(w>>8), byte(w))
			}
		}
		return out, nil
	}
	return []byte(text), nil
}
