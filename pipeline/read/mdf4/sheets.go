package mdf4

import (
	"fmt"

	"dynolake/schema"
)

// tables passes every group's rows on, in the order of the file.
func (e *emitter) tables(all []*dataGroup) error {
	if err := e.chains(all); err != nil {
		return err
	}
	members := e.members(all)
	clocks := 0
	for _, d := range all {
		for _, g := range d.groups {
			if g.clock != nil {
				clocks++
			}
		}
	}
	nth := 0
	for _, d := range all {
		for _, g := range d.groups {
			if nth++; g.name == "" && clocks > 1 {
				g.name = fmt.Sprintf("group %d", nth)
			}
		}
		var err error
		switch {
		case d.stream == nil:
		case d.idSize > 0 || len(d.groups) > 1:
			err = e.unsorted(d)
		case len(d.groups) == 1:
			err = e.sorted(d, members[d.groups[0].at])
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// chains finds where each group's data stands. A last block whose length was not brought up to date ends where the next
// block that is known begins.
func (e *emitter) chains(all []*dataGroup) error {
	for _, d := range all {
		var err error
		if d.stream, d.apart, err = e.chain(d.data, recordKinds); err != nil {
			return err
		}
	}
	if e.unfinished&staleLength == 0 {
		return nil
	}
	for _, d := range all {
		e.lengthen(d.stream)
	}
	return nil
}

func (f *file) lengthen(s *stream) {
	if len(s.parts) == 0 || s.parts[len(s.parts)-1].packed {
		return
	}
	p := &s.parts[len(s.parts)-1]
	end := f.size
	for at := range f.seen {
		if at > p.at {
			end = min(end, at)
		}
	}
	for at := range f.texts {
		if at > p.at {
			end = min(end, at)
		}
	}
	if size := end - p.from; size > p.size {
		s.size += size - p.size
		p.size, p.stored = size, size
	}
}

// members lists, for each group that has a clock, those that borrow it.
func (e *emitter) members(all []*dataGroup) map[int64][]*group {
	owners := map[int64]*group{}
	for _, d := range all {
		if len(d.groups) == 1 && d.idSize == 0 && d.groups[0].remote == 0 {
			owners[d.groups[0].at] = d.groups[0]
		}
	}
	out := map[int64][]*group{}
	for _, d := range all {
		for _, g := range d.groups {
			switch owner := owners[g.remote]; {
			case g.remote == 0:
			case owner == nil || len(d.groups) > 1 || d.idSize > 0:
				e.setAsideGroup(g, "its clock is in a group at offset %d, which cannot be found or is not sorted", g.remote)
			default:
				out[g.remote] = append(out[g.remote], g)
			}
		}
	}
	return out
}

// sorted passes on a group that has its data for itself, with those that borrow its clock.
func (e *emitter) sorted(d *dataGroup, members []*group) error {
	g := d.groups[0]
	if g.remote != 0 || !e.timedGroup(g) {
		return nil
	}
	first := e.newBank(g, d.stream, d.apart)
	if first == nil {
		return nil
	}
	s := &sheet{name: g.name, clock: g.clock, banks: []*bank{first}}
	for _, m := range members {
		b := e.newBank(m, m.in.stream, m.in.apart)
		if b == nil {
			continue
		}
		if b.rows != first.rows && first.stride > 0 {
			e.find(schema.Doubt, "cycles_disagree", "", float64(b.rows), "rows", harm("CG", m.at, "%d rows, and the group with its clock has %d", b.rows, first.rows).Error())
		}
		s.banks = append(s.banks, b)
	}
	if s.rows() == 0 {
		e.empty++
		return nil
	}
	if ok, err := e.declare(s); !ok || err != nil {
		return err
	}
	return e.read(s)
}

// timedGroup reports whether a group has a clock; one without is a finding.
func (e *emitter) timedGroup(g *group) bool {
	if g.clock != nil {
		return true
	}
	e.reject("no_clock", "group %s of %d channels has no clock: %s; it is set aside", quoted(g.name), len(g.channels), g.why)
	return false
}

// declare tells the sink of a sheet. It is false when the sheet has no channel that can be mapped.
func (e *emitter) declare(s *sheet) (bool, error) {
	channels := s.channels(e.file)
	if len(channels) == 0 {
		e.say("no_channels", "", "group %s has no channel beside its clock that can be mapped", quoted(s.name))
		return false, nil
	}
	const busEvent, plainBusEvent = 1 << 1, 1 << 2
	if s.banks[0].g.flags&(busEvent|plainBusEvent) != 0 {
		e.say("bus_frames", "", "group %s holds frames of a bus as they came: their ids and lengths are read, the signals in them are not; export them as a candump log and give the DBC file", quoted(s.name))
	}
	for i := range s.lanes {
		if err := e.listOf(&s.lanes[i]); err != nil {
			return false, err
		}
	}
	clock, err := e.clock(s)
	if err != nil {
		return false, err
	}
	s.handle, err = e.sink.Group(schema.Group{Name: s.name, Clock: clock, Channels: channels})
	return true, err
}

// listOf finds the list that a channel's texts stand in.
func (e *emitter) listOf(l *lane) error {
	if l.kind != anyLength || l.list != nil {
		return nil
	}
	if spilt := l.bank.g.in.spilt[l.data]; spilt != nil {
		l.list = newTexts(spilt, e.unfinished&staleOffsets != 0)
		return nil
	}
	s, ok := e.lists[l.data]
	if !ok {
		var err error
		if s, _, err = e.chain(l.data, textKinds); err != nil {
			return err
		}
		s.settleClaims(1, -1)
		s.settlePacking(0)
		if s.cut != nil {
			e.lose(s.cut)
			e.doubt("data_cut", l.name, "%s: texts of %q behind it are lost", s.cut, l.name)
		}
		e.lists[l.data] = s
	}
	l.list = newTexts(s, false)
	return nil
}
