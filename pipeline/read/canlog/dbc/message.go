package dbc

import (
	"strconv"
	"strings"
)

// independent is the id of the pseudo-message that holds signals of no message.
const independent = 0xC0000000

// message reads BO_ and the SG_ lines below it.
func (p *parser) message() error {
	if err := p.next(); err != nil {
		return err
	}
	at := p.tok
	id, err := p.integer("a message id", 1<<32-1)
	if err != nil {
		return err
	}
	name, err := p.take(word, "a message name")
	if err != nil {
		return err
	}
	if err := p.expect(":"); err != nil {
		return err
	}
	length, err := p.integer("a message length", 1785)
	if err != nil {
		return err
	}
	m := Message{ID: uint32(id) & 0x1FFFFFFF, Extended: id>>31 == 1, Name: name.s, Length: int(length)}
	if !m.Extended && m.ID > 0x7FF && id != independent {
		if id > 0x1FFFFFFF {
			return p.fail(at, "found id %d: expected 11 bits, or 29 with bit 31 set", id)
		}
		m.Extended = true // Some writers leave out the flag.
	}
	if p.tok.kind == word && !p.tok.first {
		if err := p.next(); err != nil {
			return err
		}
	}
	for p.tok.kind == word && p.tok.s == "SG_" {
		if err := p.signal(&m); err != nil {
			return err
		}
	}
	if id == independent {
		return nil
	}
	if _, twice := p.byID[uint32(id)]; !twice {
		p.byID[uint32(id)] = len(p.db.Messages)
	}
	p.db.Messages = append(p.db.Messages, m)
	return nil
}

// signal reads SG_ NAME [mux] : START|BITS@ORDER SIGN (FACTOR,OFFSET) [MIN|MAX] "UNIT" RECEIVERS.
func (p *parser) signal(m *Message) error {
	line := p.tok.line
	if err := p.next(); err != nil {
		return err
	}
	name, err := p.take(word, "a signal name")
	if err != nil {
		return err
	}
	s := Signal{Name: name.s, line: line}
	if p.tok.kind == word {
		if err := p.mux(&s); err != nil {
			return err
		}
	}
	if err := p.expect(":"); err != nil {
		return err
	}
	if err := p.place(&s); err != nil {
		return err
	}
	if err := p.conversion(&s); err != nil {
		return err
	}
	for p.tok.kind != end && !p.tok.first { // Receivers.
		if err := p.next(); err != nil {
			return err
		}
	}
	for p.tok.kind == mark && p.tok.s == "," || p.tok.kind == word && p.tok.first && p.tok.s == "Vector__XXX" {
		if err := p.next(); err != nil {
			return err
		}
	}
	m.Signals = append(m.Signals, s)
	return nil
}

// mux reads M, m3 or m3M.
func (p *parser) mux(s *Signal) error {
	t := p.tok
	text := t.s
	if cut, ok := strings.CutSuffix(text, "M"); ok {
		s.Selects, text = true, cut
	}
	if digits, ok := strings.CutPrefix(text, "m"); ok {
		n, err := strconv.ParseUint(digits, 10, 64)
		if err != nil {
			return p.fail(t, "found %q: expected M, m and a number, or both", t.s)
		}
		s.When, text = &Selector{Ranges: []Range{{n, n}}}, ""
	}
	if text != "" {
		return p.fail(t, "found %q: expected M, m and a number, or a colon", t.s)
	}
	return p.next()
}

func (p *parser) place(s *Signal) error {
	start, err := p.integer("a start bit", mostBits-1)
	if err != nil {
		return err
	}
	if err := p.expect("|"); err != nil {
		return err
	}
	bits, err := p.integer("a length in bits", mostBits)
	if err != nil {
		return err
	}
	s.Start, s.Bits = int(start), int(bits)
	if err := p.expect("@"); err != nil {
		return err
	}
	order := p.tok
	switch {
	case order.kind == number && strings.HasPrefix(order.s, "1"):
	case order.kind == number && strings.HasPrefix(order.s, "0"):
		s.Order = BigEndian
	default:
		return p.fail(order, "found %q: expected byte order 0 or 1", order.s)
	}
	if err := p.next(); err != nil {
		return err
	}
	sign := p.tok
	if sign.s != "+" && sign.s != "-" {
		return p.fail(sign, "found %q: expected + or - for the sign", sign.s)
	}
	s.Signed = sign.s == "-"
	return p.next()
}

func (p *parser) conversion(s *Signal) error {
	var low, high float64
	for _, step := range []struct {
		open, between, shut string
		a, b                *float64
		what                string
	}{{"(", ",", ")", &s.Factor, &s.Offset, "a factor and an offset"}, {"[", "|", "]", &low, &high, "a lowest and a highest value"}} {
		if err := p.expect(step.open); err != nil {
			return err
		}
		var err error
		if *step.a, err = p.float(step.what); err != nil {
			return err
		}
		if err := p.expect(step.between); err != nil {
			return err
		}
		if *step.b, err = p.float(step.what); err != nil {
			return err
		}
		if err := p.expect(step.shut); err != nil {
			return err
		}
	}
	unit, err := p.take(text, "a unit in quotes")
	s.Unit = strings.TrimSpace(unit.s)
	return err
}
