package delimited

import (
	"bytes"
	"time"
)

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
		if p.afterYear(v, sep) {
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

// afterYear reads the month and day of 2019-03-05.
func (p *parser) afterYear(y int, sep byte) bool {
	p.i++
	m, mn := p.digits(2)
	if p.peek() != sep {
		return false
	}
	p.i++
	d, dn := p.digits(2)
	return mn > 0 && dn > 0 && p.set(y, m, d)
}

// dayFirst reads what follows a date's one or two leading digits.
func (p *parser) dayFirst(a int, sep byte) bool {
	if sep != '.' && sep != '/' && sep != '-' && sep != ' ' {
		return false
	}
	p.i++
	from := p.i
	if m := monthOf(p.letters()); m != 0 {
		if bytes.IndexByte([]byte("- /.,"), p.peek()) >= 0 {
			p.i++
		}
		p.blanks()
		y, ok := p.year()
		return ok && p.set(y, m, a)
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
	if sep == '/' && p.slashed(a, b) {
		return p.set(y, a, b)
	}
	return p.set(y, b, a)
}

// slashed notes what a/b/y shows of its order and reports that a is the month.
func (p *parser) slashed(a, b int) bool {
	switch {
	case a > 12:
		p.s.order = dayLeads
	case b > 12:
		p.s.order = monthLeads
		return true
	case a != b:
		p.s.order = either
	}
	return p.monthFirst
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
