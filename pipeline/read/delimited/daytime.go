package delimited

import "bytes"

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
			p.s.fraction += int64(p.b[p.i]-'0') * unit
			p.s.count = p.s.count*10 + int64(p.b[p.i]-'0')
		}
		p.i++
		n++
	}
	p.s.nanos += p.s.fraction
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
