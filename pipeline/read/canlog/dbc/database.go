package dbc

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// Order is how a signal's bytes follow each other.
type Order int

// The byte orders.
const (
	LittleEndian Order = iota
	BigEndian
)

// Range is a selector's values, both ends included.
type Range struct{ Low, High uint64 }

// Selector says when a multiplexed signal is there: while the signal named reads within one of the ranges.
type Selector struct {
	Signal string
	Ranges []Range
}

// Signal is one signal of a message.
type Signal struct {
	Name     string
	Start    int // As written: the lowest bit, or in big-endian order the highest.
	Bits     int
	Order    Order
	Signed   bool
	Float    bool // The bits are an IEEE 754 number of 32 or 64 bits.
	Factor   float64
	Offset   float64
	Unit     string
	Comment  string
	Selects  bool      // Other signals depend on its value.
	When     *Selector // Nil for a signal that is always there.
	Texts    map[int64]string
	SPN      int // The J1939 parameter, 0 where none is stated.
	line     int
	selector string
}

// Message is one message.
type Message struct {
	ID       uint32
	Extended bool
	J1939    bool // Stands for a parameter group.
	Name     string
	Length   int
	Comment  string
	Signals  []Signal
	format   string
}

// Signal finds a signal by name, nil where there is none.
func (m *Message) Signal(name string) *Signal {
	for i := range m.Signals {
		if m.Signals[i].Name == name {
			return &m.Signals[i]
		}
	}
	return nil
}

// Database is one file.
type Database struct {
	Name     string // The file's name.
	Messages []Message
	Protocol string
	exact    map[uint32]int
	groups   map[uint32][]int
}

// key tells an 11-bit id from a 29-bit one.
func key(id uint32, extended bool) uint32 {
	if extended {
		return id | 1<<31
	}
	return id
}

// pgn is the parameter group of a 29-bit id: without priority, source, and destination of a PDU1 message. Source: SAE J1939-21.
func pgn(id uint32) uint32 {
	g := id >> 8 & 0x3FFFF
	if g>>8&0xFF < 240 {
		g &^= 0xFF
	}
	return g
}

// Find gives the message of an id: the one with exactly this id, else of a J1939 database the one of its parameter group, of
// which one that states the same source address goes before one that does not.
func (d *Database) Find(id uint32, extended bool) (*Message, bool) {
	if i, ok := d.exact[key(id, extended)]; ok {
		return &d.Messages[i], true
	}
	if !extended {
		return nil, false
	}
	of := d.groups[pgn(id)]
	if len(of) == 0 {
		return nil, false
	}
	for _, i := range of {
		if d.Messages[i].ID&0xFF == id&0xFF {
			return &d.Messages[i], true
		}
	}
	return &d.Messages[of[0]], true
}

// index prepares Find; the first of two messages with one id counts.
func (d *Database) index() {
	d.exact, d.groups = map[uint32]int{}, map[uint32][]int{}
	for i := range d.Messages {
		m := &d.Messages[i]
		k := key(m.ID, m.Extended)
		if _, ok := d.exact[k]; !ok {
			d.exact[k] = i
		}
		if m.J1939 {
			d.groups[pgn(m.ID)] = append(d.groups[pgn(m.ID)], i)
		}
	}
}

// Covers lists the bits, counted from 0 at the lowest of the first byte, that the signal lies on.
func (s *Signal) Covers() []int {
	list := make([]int, 0, s.Bits)
	at := s.Start
	for range s.Bits {
		list = append(list, at)
		if s.Order == LittleEndian {
			at++
			continue
		}
		if at%8 == 0 {
			at += 15
		} else {
			at--
		}
	}
	return list
}

// Raw takes the signal's bits out of a message. It is false where the message ends before them or they are more than 64.
func (s *Signal) Raw(data []byte) (uint64, bool) {
	if s.Bits < 1 || s.Bits > 64 {
		return 0, false
	}
	if s.Order == LittleEndian {
		return little(data, s.Start, s.Bits)
	}
	var raw uint64
	byteAt, bit := s.Start/8, s.Start%8
	for left := s.Bits; left > 0; {
		if byteAt >= len(data) {
			return 0, false
		}
		n := min(left, bit+1)
		raw = raw<<n | uint64(data[byteAt])>>(bit+1-n)&(1<<n-1)
		left, byteAt, bit = left-n, byteAt+1, 7
	}
	return raw, true
}

func little(data []byte, start, bits int) (uint64, bool) {
	if start+bits > 8*len(data) {
		return 0, false
	}
	var raw uint64
	for got, at := 0, start; got < bits; {
		n := min(bits-got, 8-at%8)
		raw |= uint64(data[at/8]) >> (at % 8) & (1<<n - 1) << got
		got, at = got+n, at+n
	}
	return raw, true
}

// Of gives the value that raw bits mean, in the signal's unit. A float that is infinite or no number is missing.
func (s *Signal) Of(raw uint64) float64 {
	x := float64(raw)
	switch {
	case s.Float && s.Bits == 64:
		x = math.Float64frombits(raw)
	case s.Float:
		x = float64(math.Float32frombits(uint32(raw)))
	case s.Signed:
		x = float64(s.integer(raw))
	}
	x = x*s.Factor + s.Offset
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

// integer reads the bits as two's complement where the signal is signed.
func (s *Signal) integer(raw uint64) int64 {
	if s.Signed && s.Bits >= 1 && s.Bits < 64 && raw>>(s.Bits-1) == 1 {
		return int64(raw) - 1<<s.Bits
	}
	return int64(raw)
}

// Text is the text that the value table gives for raw bits, "" where it gives none.
func (s *Signal) Text(raw uint64) string { return s.Texts[s.integer(raw)] }

// There reports whether a signal is in a message with these bytes: always, or as its selectors read.
func (m *Message) There(s *Signal, data []byte) bool {
	for depth := 0; s.When != nil; depth++ {
		by := m.Signal(s.When.Signal)
		if by == nil || depth > 8 {
			return false
		}
		raw, ok := by.Raw(data)
		if !ok || !slices.ContainsFunc(s.When.Ranges, func(r Range) bool { return raw >= r.Low && raw <= r.High }) {
			return false
		}
		s = by
	}
	return true
}

// When words what a signal depends on, "" where it is always there: "Mode=1,3-5 Page=2", the outermost selector last.
func (m *Message) When(s *Signal) string {
	var b strings.Builder
	for depth := 0; s != nil && s.When != nil && depth <= 8; depth++ {
		if depth > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(s.When.Signal + "=")
		for i, r := range s.When.Ranges {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(strconv.FormatUint(r.Low, 10))
			if r.High != r.Low {
				b.WriteString("-" + strconv.FormatUint(r.High, 10))
			}
		}
		s = m.Signal(s.When.Signal)
	}
	return b.String()
}
