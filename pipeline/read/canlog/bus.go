package canlog

import (
	"fmt"

	"dynolake/pipeline/read/canlog/frame"
	"dynolake/pipeline/read/canlog/j1939"
	"dynolake/pipeline/read/canlog/obd"
)

const (
	mostBuses  = 64
	mostRoutes = 8192 // Ids on all buses that are followed; any more are counted together.
)

// bus is one network's state.
type bus struct {
	name      string
	routes    map[uint32]*route
	sources   map[uint32]*message // J1939 messages by PGN and source address.
	transport j1939.Transport
	traffic   traffic
}

// route is what is done with the frames of one id.
type route struct {
	what    action
	label   string // For counts.
	message *message
	unit    *unit
	id      j1939.ID
	length  int // The most bytes seen, to tell a cut last line.
}

type action int

const (
	unknown action = iota
	decoded
	request
	answered
	transported
)

// bus finds a network by name, nil when there are too many.
func (r *run) bus(name []byte) *bus {
	b := r.buses[string(name)]
	if b == nil && len(r.buses) < mostBuses {
		b = &bus{name: string(name), routes: map[uint32]*route{}, sources: map[uint32]*message{}}
		r.buses[b.name] = b
	}
	return b
}

// route finds what is done with a frame's id, nil when there are too many.
func (r *run) route(b *bus, f *frame.Frame) *route {
	key := f.ID
	if f.Extended {
		key |= 1 << 31
	}
	if way := b.routes[key]; way != nil {
		return way
	}
	if r.routes++; r.routes > mostRoutes {
		return nil
	}
	way := r.newRoute(b, f)
	b.routes[key] = way
	return way
}

func (r *run) newRoute(b *bus, f *frame.Frame) *route {
	way := &route{label: fmt.Sprintf("%s %03X", b.name, f.ID), id: j1939.Split(f.ID)}
	if f.Extended {
		way.label = fmt.Sprintf("%s %08X", b.name, f.ID)
	}
	role := obd.RoleOf(f.ID, f.Extended)
	if role == obd.Other || r.named(f.ID, f.Extended) {
		if m := r.source(b, f.ID, f.Extended); m != nil {
			way.what, way.message = decoded, m
			return way
		}
	}
	switch {
	case role == obd.Request:
		way.what = request
	case role == obd.Answer:
		way.what, way.unit = answered, &unit{bus: b.name, id: f.ID, groups: map[pidKey]*pidGroup{}}
	case f.Extended && (way.id.PGN == j1939.PGNControl || way.id.PGN == j1939.PGNData):
		way.what = transported
	case f.Extended && way.id.PGN == j1939.PGNRequest:
		way.what = request
	}
	return way
}

// named reports whether a database names the id.
func (r *run) named(id uint32, extended bool) bool {
	m, _ := r.find(id, extended)
	return m != nil
}

// source gives the reading of a message, one for all priorities and destinations of a J1939 message.
func (r *run) source(b *bus, id uint32, extended bool) *message {
	x := j1939.Split(id)
	key := x.PGN<<8 | uint32(x.Source)
	if extended {
		if m := b.sources[key]; m != nil {
			return m
		}
	}
	m := r.plan(b.name, id, extended)
	if m != nil && m.source >= 0 {
		b.sources[key] = m
	}
	return m
}

// frame takes one frame in.
func (r *run) frame(b *bus, way *route, t float64, f *frame.Frame) error {
	switch way.what {
	case decoded:
		return r.decode(way.message, t, f.Data())
	case answered:
		return r.answer(way.unit, t, f.Data())
	case request:
		r.tally.by("can_requests", way.label, 1)
	case transported:
		p, whole := b.transport.Add(t, way.id, f.Data())
		if !whole {
			return nil
		}
		if m := r.source(b, p.PGN<<8|uint32(p.Source), true); m != nil {
			return r.decode(m, p.T, p.Data)
		}
		r.tally.by("can_unknown", fmt.Sprintf("%s %04X from %02X (%d bytes)", b.name, p.PGN, p.Source, len(p.Data)), 1)
	default:
		r.tally.by("can_unknown", way.label, 1)
	}
	return nil
}
