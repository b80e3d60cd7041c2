package delimited

import "time"

// stamp is a date, a time or both as a cell writes them.
type stamp struct {
	days  int64 // Since 1970-01-01.
	nanos int64 // Since midnight, or an elapsed time.

	hasDate, hasTime bool
	parts            int   // Of the time: 2 for a:b, which is minutes and seconds or hours and minutes.
	decimals         int   // Digits behind the seconds,
	fraction         int64 // the nanoseconds they are as decimals,
	count            int64 // and the number they are on their own.
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
