package dbc

import (
	"fmt"
	"strconv"
	"strings"
)

// mostBits bounds a signal's place: CAN FD has 64 bytes, a J1939 transport message 1785.
const mostBits = 8 * 1785

// Parse reads a database. name is what errors begin with. An error is the first fault: file:line:column, what was found and
// what was expected.
func Parse(name string, b []byte) (Database, error) {
	p := parser{lexer: newLexer(name, b), db: Database{Name: name}, tables: map[string]map[int64]string{}, byID: map[uint32]int{}}
	if err := p.next(); err != nil {
		return Database{}, err
	}
	for p.tok.kind != end {
		if err := p.section(); err != nil {
			return Database{}, err
		}
	}
	if !p.known {
		return Database{}, fmt.Errorf("%s:1:1: no CAN database: expected a section such as VERSION, BU_ or BO_", name)
	}
	p.settle()
	return p.db, nil
}

type parser struct {
	*lexer
	db     Database
	known  bool // A section of a database was seen.
	tables map[string]map[int64]string
	byID   map[uint32]int
	frames string // The default of VFrameFormat.
	spn    int
	enum   []string // The texts of VFrameFormat.
}

func (p *parser) section() error {
	if p.tok.kind != word {
		return p.skip()
	}
	at := p.tok
	switch at.s {
	case "VERSION":
		p.known = true
		if err := p.next(); err != nil {
			return err
		}
		if p.tok.kind == text {
			return p.next()
		}
		return nil
	case "NS_":
		return p.namespace()
	case "BS_", "BU_":
		p.known = true
		return p.restOfSection()
	case "BO_":
		p.known = true
		return p.message()
	case "SG_":
		return p.fail(at, "a signal outside of a message: expected BO_ before it")
	case "CM_":
		return p.comment()
	case "VAL_":
		return p.values()
	case "VAL_TABLE_":
		return p.valueTable()
	case "SIG_VALTYPE_":
		return p.valueType()
	case "SG_MUL_VAL_":
		return p.multiplex()
	case "BA_", "BA_DEF_", "BA_DEF_DEF_":
		return p.attribute(at.s)
	}
	return p.skip()
}

// skip passes over a statement of no interest: up to its semicolon.
func (p *parser) skip() error {
	for p.tok.kind != end {
		semicolon := p.tok.s == ";" && p.tok.kind == mark
		if err := p.next(); err != nil {
			return err
		}
		if semicolon {
			return nil
		}
		if p.tok.first && p.tok.kind == word && (p.tok.s == "BO_" || p.tok.s == "SG_") {
			return nil
		}
	}
	return nil
}

// namespace passes over the list of keywords.
func (p *parser) namespace() error {
	p.known = true
	for p.tok.kind != end && p.tok.s != "BS_" && p.tok.s != "BU_" && p.tok.s != "BO_" {
		if err := p.next(); err != nil {
			return err
		}
	}
	return nil
}

// restOfSection passes over a line and those after it that begin with no keyword.
func (p *parser) restOfSection() error {
	if err := p.next(); err != nil {
		return err
	}
	for p.tok.kind != end && (!p.tok.first || p.tok.kind != word || !strings.HasSuffix(p.tok.s, "_")) {
		if err := p.next(); err != nil {
			return err
		}
	}
	return nil
}

// expect takes a mark.
func (p *parser) expect(s string) error {
	if p.tok.kind != mark || p.tok.s != s {
		return p.fail(p.tok, "found %q: expected %q", p.tok.s, s)
	}
	return p.next()
}

// take gives a token of a kind, and moves on.
func (p *parser) take(k kind, what string) (token, error) {
	t := p.tok
	if t.kind != k {
		return t, p.fail(t, "found %q: expected %s", t.s, what)
	}
	return t, p.next()
}

func (p *parser) float(what string) (float64, error) {
	t, err := p.take(number, what)
	if err != nil {
		return 0, err
	}
	x, perr := strconv.ParseFloat(t.s, 64)
	if perr != nil && (x == 0 || strings.ContainsAny(t.s, "xXpP_")) {
		return 0, p.fail(t, "found %q: expected %s", t.s, what)
	}
	return x, nil
}

func (p *parser) integer(what string, most int64) (int64, error) {
	t, err := p.take(number, what)
	if err != nil {
		return 0, err
	}
	n, perr := strconv.ParseInt(t.s, 10, 64)
	if perr != nil || n < 0 || n > most {
		return 0, p.fail(t, "found %q: expected %s from 0 to %d", t.s, what, most)
	}
	return n, nil
}

// settle closes what refers to other places.
func (p *parser) settle() {
	for i := range p.db.Messages {
		m := &p.db.Messages[i]
		format := m.format
		if format == "" {
			format = p.frames
		}
		stated := strings.Contains(format, "J1939") || strings.EqualFold(p.db.Protocol, "J1939") && format == ""
		m.J1939 = m.Extended && (stated || format == "" && m.ID&0xFF == 0xFE) // FE is the address of no one.
		m.selectors(p.spn)
	}
	p.db.index()
}

// selectors gives each multiplexed signal without a stated selector the message's own.
func (m *Message) selectors(spn int) {
	first := ""
	for i := range m.Signals {
		if s := &m.Signals[i]; s.Selects && s.When == nil && s.selector == "" && first == "" {
			first = s.Name
		}
	}
	for i := range m.Signals {
		s := &m.Signals[i]
		if s.SPN == 0 {
			s.SPN = spn
		}
		if s.When != nil && s.When.Signal == "" {
			s.When.Signal = first
		}
	}
}
