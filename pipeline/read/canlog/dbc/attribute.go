package dbc

import (
	"slices"
	"strconv"
	"strings"
)

// find gives the message and signal that a statement refers to, nil where there are none: a reference to nothing is no fault
// that matters here.
func (p *parser) find(id int64, signal string) (*Message, *Signal) {
	i, ok := p.byID[uint32(id)]
	if !ok {
		return nil, nil
	}
	m := &p.db.Messages[i]
	return m, m.Signal(signal)
}

// reference reads ID NAME.
func (p *parser) reference() (*Signal, error) {
	id, err := p.integer("a message id", 1<<32-1)
	if err != nil {
		return nil, err
	}
	name, err := p.take(word, "a signal name")
	if err != nil {
		return nil, err
	}
	_, s := p.find(id, name.s)
	return s, nil
}

// comment reads CM_ [BO_ ID | SG_ ID NAME | …] "text";
func (p *parser) comment() error {
	if err := p.next(); err != nil {
		return err
	}
	about := p.tok.s
	if p.tok.kind != word || (about != "BO_" && about != "SG_") {
		return p.skip()
	}
	if err := p.next(); err != nil {
		return err
	}
	if about == "SG_" {
		s, err := p.reference()
		if err == nil && s != nil && p.tok.kind == text {
			s.Comment = strings.Join(strings.Fields(p.tok.s), " ")
		}
		return orSkip(p, err)
	}
	id, err := p.integer("a message id", 1<<32-1)
	if m, _ := p.find(id, ""); err == nil && m != nil && p.tok.kind == text {
		m.Comment = strings.Join(strings.Fields(p.tok.s), " ")
	}
	return orSkip(p, err)
}

func orSkip(p *parser, err error) error {
	if err != nil {
		return err
	}
	return p.skip()
}

// texts reads NUMBER "text" pairs up to the semicolon.
func (p *parser) texts() (map[int64]string, error) {
	list := map[int64]string{}
	for p.tok.kind == number {
		x, err := p.float("a value")
		if err != nil {
			return nil, err
		}
		t, err := p.take(text, "a text in quotes")
		if err != nil {
			return nil, err
		}
		if x == float64(int64(x)) {
			list[int64(x)] = strings.TrimSpace(t.s)
		}
	}
	return list, p.expect(";")
}

// values reads VAL_ ID SIGNAL and its texts, or the name of a table; VAL_ of an environment variable is passed over.
func (p *parser) values() error {
	if err := p.next(); err != nil {
		return err
	}
	if p.tok.kind != number {
		return p.skip()
	}
	s, err := p.reference()
	if err != nil {
		return err
	}
	if p.tok.kind == word {
		if s != nil {
			s.Texts = p.tables[p.tok.s]
		}
		return p.skip()
	}
	list, err := p.texts()
	if err == nil && s != nil {
		s.Texts = list
	}
	return err
}

func (p *parser) valueTable() error {
	if err := p.next(); err != nil {
		return err
	}
	name, err := p.take(word, "a table's name")
	if err != nil {
		return err
	}
	list, err := p.texts()
	p.tables[name.s] = list
	return err
}

// valueType reads SIG_VALTYPE_ ID SIGNAL : 1; (32-bit float) or 2; (64-bit).
func (p *parser) valueType() error {
	if err := p.next(); err != nil {
		return err
	}
	s, err := p.reference()
	if err != nil {
		return err
	}
	if p.tok.s == ":" { // Some writers leave it out.
		if err := p.next(); err != nil {
			return err
		}
	}
	at := p.tok
	n, err := p.integer("a value type", 3)
	if err != nil {
		return err
	}
	if s != nil && n > 0 {
		if (n != 1 || s.Bits != 32) && (n != 2 || s.Bits != 64) {
			return p.fail(at, "type %d for %s of %d bits: expected 1 for 32 bits or 2 for 64", n, s.Name, s.Bits)
		}
		s.Float = true
	}
	return p.skip()
}

// multiplex reads SG_MUL_VAL_ ID SIGNAL SELECTOR 1-1, 3-5;
func (p *parser) multiplex() error {
	if err := p.next(); err != nil {
		return err
	}
	s, err := p.reference()
	if err != nil {
		return err
	}
	by, err := p.take(word, "a selector's name")
	if err != nil {
		return err
	}
	w := &Selector{Signal: by.s}
	for p.tok.kind == number {
		// "2-5" lexes as 2 and -5.
		low := p.tok
		a, err1 := strconv.ParseUint(low.s, 10, 64)
		if err := p.next(); err != nil {
			return err
		}
		high := p.tok
		b, err2 := strconv.ParseUint(strings.TrimPrefix(high.s, "-"), 10, 64)
		if err1 != nil || err2 != nil || high.kind != number || a > b {
			return p.fail(low, "found %q: expected a range such as 2-5", low.s+high.s)
		}
		w.Ranges = append(w.Ranges, Range{a, b})
		if err := p.next(); err != nil {
			return err
		}
		if p.tok.s == "," {
			if err := p.next(); err != nil {
				return err
			}
		}
	}
	if s != nil && len(w.Ranges) > 0 {
		s.When, s.selector = w, by.s
	}
	return p.skip()
}

// attribute reads BA_ "NAME" [BO_ ID | SG_ ID NAME | …] VALUE; and the definitions and defaults of VFrameFormat and SPN.
func (p *parser) attribute(section string) error {
	if err := p.next(); err != nil {
		return err
	}
	object := ""
	if p.tok.kind == word {
		object = p.tok.s
		if err := p.next(); err != nil {
			return err
		}
	}
	if p.tok.kind != text {
		return p.skip()
	}
	name := p.tok.s
	if err := p.next(); err != nil {
		return err
	}
	switch {
	case section == "BA_DEF_" && name == "VFrameFormat" && object == "BO_":
		return p.formats()
	case section == "BA_DEF_DEF_" && name == "VFrameFormat":
		p.frames = p.tok.s
	case section == "BA_DEF_DEF_" && name == "SPN":
		p.spn, _ = strconv.Atoi(p.tok.s) // 0 where it is no number.
	case section == "BA_DEF_DEF_" && name == "ProtocolType" && p.db.Protocol == "":
		p.db.Protocol = p.tok.s
	case section == "BA_":
		return p.set(name)
	}
	return p.skip()
}

func (p *parser) formats() error {
	for p.tok.kind != end && p.tok.s != ";" {
		if p.tok.kind == text {
			p.enum = append(p.enum, p.tok.s)
		}
		if err := p.next(); err != nil {
			return err
		}
	}
	return p.skip()
}

// set takes an attribute's value in.
func (p *parser) set(name string) error {
	about := p.tok
	if about.kind != word {
		if name == "ProtocolType" && about.kind == text {
			p.db.Protocol = about.s
		}
		return p.skip()
	}
	if !slices.Contains([]string{"VFrameFormat", "SPN"}, name) || (about.s != "BO_" && about.s != "SG_") {
		return p.skip()
	}
	if err := p.next(); err != nil {
		return err
	}
	id, err := p.integer("a message id", 1<<32-1)
	if err != nil {
		return err
	}
	var signal string
	if about.s == "SG_" {
		t, err := p.take(word, "a signal name")
		if err != nil {
			return err
		}
		signal = t.s
	}
	m, s := p.find(id, signal)
	value := p.tok.s
	n, nerr := strconv.Atoi(value)
	switch {
	case name == "SPN" && s != nil && nerr == nil:
		s.SPN = n
	case name == "VFrameFormat" && about.s == "BO_" && m != nil:
		m.format = value
		if nerr == nil && n >= 0 && n < len(p.enum) {
			m.format = p.enum[n]
		}
	}
	return p.skip()
}
