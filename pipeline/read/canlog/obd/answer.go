package obd

import "slices"

// Role is what a CAN id is in on-board diagnostics.
type Role int

// The roles of an id.
const (
	Other Role = iota
	Request
	Answer
)

// RoleOf tells requests and answers by their ids, SAE J1979 and ISO 15765-4.
func RoleOf(id uint32, extended bool) Role {
	switch {
	case !extended && (id == 0x7DF || id >= 0x7E0 && id <= 0x7E7):
		return Request
	case !extended && id >= 0x7E8 && id <= 0x7EF:
		return Answer
	case extended && (id>>16 == 0x18DA || id>>16 == 0x18DB) && id&0xFF == 0xF1:
		return Request
	case extended && id>>8 == 0x18DAF1:
		return Answer
	}
	return Other
}

// Item is one parameter of an answer. Data is what stands behind the PID and, in a freeze frame, behind the frame's number.
type Item struct {
	PID   PID
	Frame byte // The freeze frame's number; 0 in mode 01.
	Data  []byte
}

// Reply is an answer of mode 01 or 02.
type Reply struct {
	Mode  byte // 1 or 2; 0 for an answer of another service.
	Items []Item
	Rest  []byte // What could not be told apart, from an unknown PID on.
}

// Parse takes a whole message apart. A PID with several possible lengths gets the one with which the message comes out even.
func Parse(message []byte) Reply {
	if len(message) < 2 || (message[0] != 0x41 && message[0] != 0x42) {
		return Reply{}
	}
	r := Reply{Mode: message[0] - 0x40}
	p := parser{mode: r.Mode}
	var ok bool
	if r.Items, ok = p.exact(message[1:], 0); ok {
		return r
	}
	r.Items, r.Rest = p.greedy(message[1:])
	return r
}

type parser struct {
	mode  byte
	tries int
}

// head gives the parameter that stands at the front, its frame and what follows.
func (p *parser) head(b []byte) (PID, byte, []byte, bool) {
	if len(b) == 0 {
		return PID{}, 0, nil, false
	}
	pid, ok := Lookup(b[0])
	if p.mode == 1 || !ok {
		return pid, 0, b[1:], ok
	}
	if len(b) < 2 {
		return PID{}, 0, nil, false
	}
	return pid, b[1], b[2:], true
}

// exact finds lengths with which the message comes out even.
func (p *parser) exact(b []byte, depth int) ([]Item, bool) {
	if len(b) == 0 {
		return nil, depth > 0
	}
	if p.tries++; p.tries > 1000 {
		return nil, false
	}
	pid, frame, rest, ok := p.head(b)
	if !ok {
		return nil, false
	}
	for _, n := range pid.Bytes {
		if n > len(rest) || n < pid.least(rest) {
			continue
		}
		if more, ok := p.exact(rest[n:], depth+1); ok {
			return slices.Insert(more, 0, Item{pid, frame, rest[:n]}), true
		}
	}
	return nil, false
}

// least is the bytes that the values take which the support byte says are there.
func (p PID) least(data []byte) int {
	n := 0
	for _, v := range p.Values {
		if v.If != nil && data[0]>>*v.If&1 == 1 {
			n = max(n, v.At+(v.Low+v.Bits+7)/8)
		}
	}
	return n
}

// greedy takes each parameter at its first length, up to one that is unknown or cut.
func (p *parser) greedy(b []byte) ([]Item, []byte) {
	var items []Item
	for len(b) > 0 {
		pid, frame, rest, ok := p.head(b)
		if !ok || pid.Bytes[0] > len(rest) {
			return items, b
		}
		n := pid.Bytes[0]
		items, b = append(items, Item{pid, frame, rest[:n]}), rest[n:]
	}
	return items, nil
}
