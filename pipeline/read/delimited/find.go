package delimited

import (
	"bytes"
	"fmt"
	"strings"

	"dynolake/schema"
)

const (
	windowBytes = 256 << 10
	windowLines = 512
)

// search is what was seen of tables so far, for the message when none can be read.
type search struct {
	clockless []string // The columns of a table that has no clock.
	line      int
	header    string // A header without rows.
	hline     int
	text      bool // The file holds more than one line.
}

// view cuts the window to its first lines.
func view(b []byte, eol byte, line int, all bool) window {
	at := 0
	for range windowLines {
		i := bytes.IndexByte(b[at:], eol)
		if i < 0 {
			return window{b: b, eol: eol, line: line, all: all}
		}
		at += i + 1
	}
	return window{b: b[:at], eol: eol, line: line, all: all && at == len(b)}
}

// find looks for the table in a window. It returns nil when there is none with a clock.
func (w window) find(r *tally, facts [][2]string, seen *search) *plan {
	var best *plan
	share := 0.0
	for _, delim := range []byte{';', '\t', ',', '|', blanks} {
		if delim == blanks && best != nil {
			break
		}
		p, numeric := w.under(delim, r, facts, seen)
		if p == nil {
			continue
		}
		if best == nil || numeric > share+0.1 || numeric > share-0.1 && p.width > best.width {
			best, share = p, numeric
		}
	}
	return best
}

// under looks for the table at one delimiter: the first that has a clock and is no scrap beside a far longer one.
func (w window) under(delim byte, r *tally, facts [][2]string, seen *search) (*plan, float64) {
	if delim != blanks && bytes.IndexByte(w.b, delim) < 0 {
		return nil, 0
	}
	tables, headers := w.tables(delim)
	var plans []*plan
	var shares []float64
	longest, past := 0, -1
	for i := range tables {
		t := &tables[i]
		if t.rows[t.names].off < past {
			continue
		}
		p, cols := planTable(t, w, r)
		if p == nil {
			p = w.counted(t, cols, r, facts)
		}
		if p == nil {
			seen.miss(t, cols)
			continue
		}
		past = t.rows[t.last-1].off
		plans, shares = append(plans, p), append(shares, t.numeric())
		longest = max(longest, t.size)
	}
	for i, p := range plans {
		if p.size >= 3 && p.size*10 >= longest || p.size == longest {
			return p, shares[i]
		}
	}
	for i := range headers {
		if seen.header == "" {
			seen.header, seen.hline = text(headers[i].raw), headers[i].line
		}
	}
	return nil, 0
}

// miss remembers a table without a clock.
func (s *search) miss(t *table, cols []column) {
	if t.size < 2 || t.numeric() < 0.5 || s.clockless != nil && len(s.clockless) >= len(cols) {
		return
	}
	s.clockless, s.line = nil, t.rows[t.names].line
	for _, c := range cols {
		if c.named {
			s.clockless = append(s.clockless, strings.TrimSpace(c.name+" "+bracket(c.unit)))
		}
	}
}

func bracket(unit string) string {
	if unit == "" {
		return ""
	}
	return "[" + unit + "]"
}

// counted plans a table without a clock whose preamble states a sample rate.
func (w window) counted(t *table, cols []column, r *tally, facts [][2]string) *plan {
	if t.size < 3 || t.numeric() < 0.8 {
		return nil
	}
	for i := range t.rows[:t.names] {
		if key, value := keyValue(trim(t.rows[i].raw), t.delim); key != "" {
			facts = append(facts, [2]string{key, value})
		}
	}
	period := rate(facts)
	if period <= 0 {
		return nil
	}
	s := &sample{rows: t.sample(), line: t.rows[t.names].line}
	p := &plan{delim: t.delim, eol: w.eol, point: s.point(t.delim), cols: cols, width: t.width, header: s.line, size: t.size}
	p.keepHeader(t)
	b := bundle{clock: clock{form: counted, col: -1, date: -1, name: "row", unit: "s", step: period}}
	for i := range cols {
		if cols[i].kept() {
			b.channels = append(b.channels, i)
		}
	}
	p.bundles = []bundle{b}
	p.why = fmt.Sprintf("a header row and a stated sample rate of %.6g Hz", 1/period)
	p.guesses = append(p.guesses, r.finding(schema.Doubt, "clock_from_rate", "", fmt.Sprintf("%s:%d:1: the table has no time channel; rows are timed by the sample rate that the preamble states", r.source, s.line), 1/period, "Hz"))
	return p
}

// reason says what was looked for and what was found, and in which line.
func (s *search) reason() (line int, why string) {
	switch {
	case len(s.clockless) > 0:
		names := s.clockless
		more := ""
		if len(names) > 20 {
			names, more = names[:20], fmt.Sprintf(" and %d more", len(s.clockless)-20)
		}
		return s.line, fmt.Sprintf("a time channel is missing among the columns %q%s: expected a column of rising times named as one, such as \"Time [s]\"; add one or state the sample rate before the table", names, more)
	case s.header != "":
		return s.hline, fmt.Sprintf("no rows behind the header %.200q: expected at least one row of values", s.header)
	case s.text:
		return 1, "no table found: expected a row of names with rows of numbers below it, parted by commas, semicolons, tabs, bars or blanks"
	}
	return 1, "the file is empty: expected a row of names with rows of numbers below it"
}

func (s *search) fail(source string) error {
	line, why := s.reason()
	return fmt.Errorf("%s:%d:1: %s", source, line, why)
}
