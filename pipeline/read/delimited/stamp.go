package delimited

import (
	"bytes"
	"time"
)

// stamp is a date, a time or both as a cell writes them.
type stamp struct {
	days  int64 // Since 1970-01-01.
	nanos int64 // Since midnight, or an elapsed time.

	hasDate, hasTime bool
	parts            int   // Of the time: 2 for a:b, which is minutes and seconds or hours and minutes.
	decimals         int   // Digits behind the seconds.
	order            order // Of a date written a/b/y.
	hour12           bool  // AM or PM was written.
	zoned            bool  // The offset was taken off: the instant is UTC.
}

// order is what a date written a/b/y shows of its order, which differs between countries.
type order uint8

const (
	unmarked   order = iota // Not written so, or day and month are equal.
	either                  // Both could be the month.
	dayLeads                // The first is above 12.
	monthLeads              // The second is.
)

const (
	second = int64(time.Second)
	day    = 86400 * second
)

// at gives the stamp as nanoseconds since 1970-01-01, or since midnight where it has no date.
func (s stamp) at() int64 { return s.days*day + s.nanos }

// parseStamp reads the layouts in which recorders and spreadsheets write dates and times: ISO 8601 with T or blank, zone Z or
// an offset; 2019/03/05; 05.03.2019; 03/05/2019 (monthFirst says which comes first where both could); 05-Mar-2019; Tue Mar 5
// 19:30:27 2019; 20190305T193027; times as h:mm, h:mm:ss.fff, h:mm:ss,fff, h:mm:ss:fff with AM or PM; m:ss.f alone.
func parseStamp(b []byte, monthFirst bool) (stamp, bool) {
	p := parser{b: b, monthFirst: monthFirst}
	p.weekday()
	if p.date() {
		p.s.hasDate = true
		if p.done() {
			return p.s, true
		}
		if !p.between() {
			return p.s, false
		}
	}
	if p.failed || !p.clock() {
		return p.s, false
	}
	p.s.hasTime = true
	p.half()
	p.zone()
	p.yearBehind()
	if p.failed || !p.done() || p.lateYear && !p.s.hasDate {
		return p.s, false
	}
	return p.s, p.s.nanos >= 0
}

type parser struct {
	b          []byte
	i          int
	s          stamp
	monthFirst bool
	failed     bool
	month, dom int
	lateYear   bool // The year comes behind the time.
}

func (p *parser) done() bool { return p.i == len(p.b) }

func (p *parser) peek() byte {
	if p.i < len(p.b) {
		return p.b[p.i]
	}
	return 0
}

func (p *parser) blanks() {
	for p.peek() == ' ' {
		p.i++
	}
}

// digits reads up to limit digits and says how many there were.
func (p *parser) digits(limit int) (v, n int) {
	for n < limit && p.i < len(p.b) && p.b[p.i]-'0' <= 9 {
		v = v*10 + int(p.b[p.i]-'0')
		p.i++
		n++
	}
	return v, n
}

func (p *parser) letters() []byte {
	from := p.i
	for c := p.peek() | 0x20; c >= 'a' && c <= 'z' || p.peek() >= 0x80; c = p.peek() | 0x20 {
		p.i++
	}
	return p.b[from:p.i]
}

var weekdays = map[string]bool{"mon": true, "tue": true, "tues": true, "wed": true, "thu": true, "thur": true, "thurs": true, "fri": true, "sat": true, "sun": true,
	"monday": true, "tuesday": true, "wednesday": true, "thursday": true, "friday": true, "saturday": true, "sunday": true,
	"mo": true, "di": true, "mi": true, "do": true, "fr": true, "sa": true, "so": true}

func (p *parser) weekday() {
	from := p.i
	if w := p.letters(); len(w) == 0 || !weekdays[string(bytes.ToLower(w))] {
		p.i = from
		return
	}
	if c := p.peek(); c == ',' || c == '.' {
		p.i++
	}
	p.blanks()
}

var months = map[string]int{"jan": 1, "feb": 2, "mar": 3, "mrz": 3, "mär": 3, "apr": 4, "may": 5, "mai": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "okt": 10, "nov": 11, "dec": 12, "dez": 12}

func monthOf(w []byte) int {
	w = bytes.ToLower(w)
	if len(w) < 3 || len(w) > 10 {
		return 0
	}
	if m := months[string(w[:3])]; m != 0 {
		return m
	}
	return months[string(w[:min(4, len(w))])] // ä takes two bytes.
}

// date reads a date at the start; the position does not move when there is none.
func (p *parser) date() bool {
	from := p.i
	if m := monthOf(p.letters()); m != 0 { // Mar 5 … 2019
		return p.afterMonth(m, from)
	}
	p.i = from
	v, n := p.digits(9)
	sep := p.peek()
	switch {
	case n == 8 && (p.done() || sep == 'T' || sep == ' ' || sep == '_' || sep == '-'):
		if v >= 19700000 && p.set(v/10000, v/100%100, v%100) {
			return true
		}
	case n == 4 && (sep == '-' || sep == '/' || sep == '.'):
		p.i++
		m, mn := p.digits(2)
		if p.peek() != sep {
			break
		}
		p.i++
		d, dn := p.digits(2)
		if mn > 0 && dn > 0 && p.set(v, m, d) {
			return true
		}
	case n == 1 || n == 2:
		if p.dayFirst(v, sep) {
			return true
		}
	}
	p.i = from
	return false
}

// dayFirst reads what follows a date's one or two leading digits.
func (p *parser) dayFirst(a int, sep byte) bool {
	if sep != '.' && sep != '/' && sep != '-' && sep != ' ' {
		return false
	}
	p.i++
	from := p.i
	if m := monthOf(p.letters()); m != 0 {
		if c := p.peek(); c == '-' || c == ' ' || c == '/' || c == '.' || c == ',' {
			p.i++
		}
		p.blanks()
		y, n := p.year()
		return n && p.set(y, m, a)
	}
	p.i = from
	b, n := p.digits(2)
	if sep == ' ' || n == 0 || p.peek() != sep {
		return false
	}
	p.i++
	y, ok := p.year()
	if !ok {
		return false
	}
	d, m := a, b
	if sep == '/' {
		switch {
		case a > 12:
			p.s.order = dayLeads
		case b > 12:
			p.s.order = monthLeads
		case a != b:
			p.s.order = either
		}
		if b > 12 || p.monthFirst && a <= 12 {
			d, m = b, a
		}
	}
	return p.set(y, m, d)
}

func (p *parser) year() (int, bool) {
	v, n := p.digits(4)
	if n == 2 {
		if v < 70 {
			return 2000 + v, true
		}
		return 1900 + v, true
	}
	return v, n == 4
}

func (p *parser) afterMonth(m, from int) bool {
	p.blanks()
	d, n := p.digits(2)
	if n == 0 {
		p.i = from
		return false
	}
	if p.peek() == ',' {
		p.i++
	}
	p.blanks()
	at := p.i
	if y, ok := p.year(); ok && p.peek() != ':' && y > 1900 {
		return p.set(y, m, d)
	}
	p.i = at
	p.month, p.dom, p.lateYear = m, d, true
	return false
}

// yearBehind takes the year of Tue Mar 5 19:30:27 2019.
func (p *parser) yearBehind() {
	if !p.lateYear {
		return
	}
	p.blanks()
	y, ok := p.year()
	p.s.hasDate = ok && p.set(y, p.month, p.dom)
}

func (p *parser) set(y, m, d int) bool {
	if y < 1900 || y > 2200 || m < 1 || m > 12 || d < 1 || d > 31 {
		return false
	}
	t := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	if t.Day() != d {
		return false
	}
	p.s.days += t.Unix() / 86400
	return true
}

// between takes what stands between a date and its time.
func (p *parser) between() bool {
	from := p.i
	for c := p.peek(); c == ' ' || c == 'T' || c == 't' || c == ',' || c == ';' || c == '_' || c == '-' || c == '@'; c = p.peek() {
		p.i++
	}
	return p.i > from && p.i-from <= 4
}

// clock reads a time.
func (p *parser) clock() bool {
	v, n := p.digits(7)
	if p.s.hasDate && (n == 6 || n == 4) && p.peek() != ':' {
		if n == 4 {
			v *= 100
		}
		p.s.parts = 3
		return p.time(v/10000, v/100%100, v%100) && p.fraction()
	}
	if n == 0 || n > 5 || p.peek() != ':' {
		return false
	}
	p.i++
	b, bn := p.digits(2)
	if bn == 0 || b > 59 {
		return false
	}
	if p.peek() != ':' {
		p.s.parts = 2
		if p.s.hasDate || p.lateYear {
			return p.time(v, b, 0)
		}
		return p.time(0, v, b) && p.fraction()
	}
	p.i++
	c, cn := p.digits(2)
	p.s.parts = 3
	return cn > 0 && c <= 60 && p.time(v, b, c) && p.fraction()
}

func (p *parser) time(h, m, s int) bool {
	p.s.nanos += (int64(h)*3600 + int64(m)*60 + int64(s)) * second
	return !p.s.hasDate || h <= 24 && m < 60 && s <= 60
}

// fraction reads the digits behind the seconds, after a point, a comma or a third colon.
func (p *parser) fraction() bool {
	c := p.peek()
	if c != '.' && c != ',' && c != ':' {
		return true
	}
	p.i++
	unit := second
	n := 0
	for p.i < len(p.b) && p.b[p.i]-'0' <= 9 {
		if n < 9 {
			unit /= 10
			p.s.nanos += int64(p.b[p.i]-'0') * unit
		}
		p.i++
		n++
	}
	p.s.decimals = min(n, 9)
	return n > 0 || c == '.'
}

// half takes AM and PM.
func (p *parser) half() {
	from := p.i
	p.blanks()
	rest := bytes.ToLower(p.b[p.i:])
	for _, h := range [...]struct {
		text string
		pm   bool
	}{{"am", false}, {"a.m.", false}, {"pm", true}, {"p.m.", true}} {
		if !bytes.HasPrefix(rest, []byte(h.text)) {
			continue
		}
		p.i += len(h.text)
		if p.s.parts == 2 && !p.s.hasDate {
			p.s.nanos *= 60 // 7:30 PM is hours and minutes.
		}
		hour := p.s.nanos / (3600 * second)
		if hour < 1 || hour > 12 {
			p.failed = true
		}
		p.s.hour12 = true
		p.s.parts = 3
		if hour == 12 {
			p.s.nanos -= 12 * 3600 * second
		}
		if h.pm {
			p.s.nanos += 12 * 3600 * second
		}
		return
	}
	p.i = from
}

// zone takes Z, UTC, GMT and offsets, and takes the offset off. Names of other zones are passed over.
func (p *parser) zone() {
	from := p.i
	p.blanks()
	rest := p.b[p.i:]
	switch {
	case len(rest) > 0 && (rest[0] == 'Z' || rest[0] == 'z'):
		p.i++
		p.s.zoned = true
	case bytes.HasPrefix(rest, []byte("UTC")), bytes.HasPrefix(rest, []byte("GMT")):
		p.i += 3
		p.s.zoned = true
	default:
		if w := p.letters(); len(w) >= 3 && len(w) <= 5 && string(w) == string(bytes.ToUpper(w)) {
			return // CET and the like: wall-clock time, which is all that is known without a table of names.
		}
		p.i = from
		p.blanks()
	}
	sign := int64(1)
	switch p.peek() {
	case '+':
	case '-':
		sign = -1
	default:
		if !p.s.zoned {
			p.i = from
		}
		return
	}
	p.i++
	h, n := p.digits(2)
	if p.peek() == ':' {
		p.i++
	}
	m, _ := p.digits(2)
	if n == 0 || h > 14 || m > 59 {
		p.failed = true
		return
	}
	p.s.zoned = true
	if p.s.hasDate || p.lateYear {
		offset := sign * (int64(h)*3600 + int64(m)*60) * second
		p.s.days, p.s.nanos = p.s.days-1, p.s.nanos+day-offset
		p.s.days, p.s.nanos = p.s.days+p.s.nanos/day, p.s.nanos%day
	}
}
