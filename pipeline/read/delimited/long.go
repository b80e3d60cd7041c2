package delimited

import (
	"bytes"
	"errors"
	"io"

	"dynolake/schema"
)

const (
	maxChannels = 4096
	maxLongHeld = 1 << 18 // Rows held over all channels.
)

// long reads rows that hold one value each. Every channel is a group with its own clock.
type long struct {
	*run
	plan   *plan
	num    numerals
	lanes  []*lane
	byKey  map[string]int
	turns  []turn  // A lane each.
	latest int     // The lane of the row before, -1 without one.
	holds  []holds // Nil for tables that are read cell by cell.
	named  map[string]bool
	held   int
	room   [][]byte
	key    []byte
	before []byte // The line before.
	prev   int    // Its cells.
	clock  clock
}

// turn is how a lane is called, and the lane whose row followed its own the last time: recorders ask for their channels in turn.
type turn struct {
	name, unit string
	bare       bool // Both stand in their cells as they are.
	next       int
}

// longTable reads rows until the file ends or another header comes.
func (r *run) longTable(p *plan) (*plan, error) {
	e := &long{run: r, plan: p, num: numerals{point: p.point, tally: r.tally}, byKey: map[string]int{}, named: map[string]bool{}, latest: -1, holds: p.holds(), prev: p.width, clock: p.bundles[0].clock}
	for n := 0; ; n++ {
		if n&1023 == 0 && r.ctx.Err() != nil {
			return nil, r.ctx.Err()
		}
		line, whole, err := r.scan.next()
		if errors.Is(err, io.EOF) {
			return nil, e.flush()
		}
		if err != nil {
			return nil, err
		}
		next, err := e.row(line, whole)
		if err != nil || next != nil {
			return next, err
		}
	}
}

func (e *long) flush() error {
	e.held = 0
	for _, l := range e.lanes {
		if err := l.flush(e.sink); err != nil {
			return err
		}
	}
	return nil
}

// row reads one line.
func (e *long) row(line []byte, whole bool) (*plan, error) {
	if len(e.before) > 0 && bytes.Equal(line, e.before) {
		e.tally.add("repeated_line", e.scan.line-1, nil)
	}
	if whole {
		if t, v, l, ok := e.swift(line); ok {
			e.prev = e.plan.width
			e.before = append(e.before[:0], line...)
			return nil, e.add(l, t, v, "", nil)
		}
	}
	cells, open := split(line, e.plan.delim, false, e.room)
	if open || e.plan.delim == blanks {
		var err error
		if cells, err = e.nextRecord(e.plan, e.plan.width, cells); err != nil {
			return nil, err
		}
	}
	e.room = cells
	if !whole && cutShort(line, len(cells), e.prev) {
		e.cutLast(line)
		return nil, nil
	}
	var date []byte
	if d := e.clock.date; d >= 0 && d < len(cells) {
		date = cells[d]
	}
	if e.clock.col < len(cells) {
		if t, ok := e.clock.read(cells[e.clock.col], date, &e.num, e.scan.line-1); ok {
			e.prev = len(cells)
			e.before = append(e.before[:0], line...)
			return nil, e.take(t, cells)
		}
	}
	next, err := e.stray(e.plan, line, e.flush)
	if next != nil && next.long != nil {
		next.bundles[0].clock.follow = follower{tick: next.bundles[0].clock.follow.tick}
	}
	return next, err
}

// take keeps one value.
func (e *long) take(t float64, cells [][]byte) error {
	r := e.plan.long
	if r.name >= len(cells) || len(cells[r.name]) == 0 {
		e.tally.add("row_without_name", e.scan.line-1, nil)
		return nil
	}
	if r.value >= len(cells) {
		e.tally.add("short_row", e.scan.line-1, nil)
	}
	if len(cells) > e.plan.width && anyFilled(cells[e.plan.width:]) {
		e.tally.add("long_row", e.scan.line-1, nil)
	}
	value, unit := r.parts(cells)
	l, err := e.lane(cells[r.name], unit)
	if l == nil || err != nil {
		return err
	}
	v, s := e.cell(&e.num, value)
	return e.add(l, t, v, s, cells)
}

// add carries a lane's clock on, or begins a new part with a row of such cells, and appends the value.
func (e *long) add(l *lane, t, v float64, s string, cells [][]byte) error {
	t, ev := l.clock.follow.next(t, l.clock.form)
	switch {
	case ev == fellBack:
		if err := e.again(l, cells); err != nil {
			return err
		}
	case ev == wrapped && l.clock.follow.carry > e.carried:
		e.carried = l.clock.follow.carry
		e.tally.add("clock_wrapped", e.scan.line-1, nil)
	}
	return e.keep(l, t, v, s)
}

// parts gives a row's value and unit; without a column of units the unit may stand behind the value.
func (r *roles) parts(cells [][]byte) (value, unit []byte) {
	if r.value < len(cells) {
		value = cells[r.value]
	}
	if r.unit >= 0 && r.unit < len(cells) {
		unit = cells[r.unit]
	}
	if n := len(value); r.unit < 0 && n > 0 && (value[n-1] > '9' || value[n-1] == '%') {
		if u := unitBehind(value); u != nil {
			return trim(value[:n-len(u)]), trim(u)
		}
	}
	return value, unit
}

// keep appends a value to its lane.
func (e *long) keep(l *lane, t, v float64, s string) error {
	l.grow()
	if s != "" {
		l.texts = append(l.texts, schema.Text{Row: l.n, Channel: 0, Text: s})
	}
	l.t[l.n], l.values[0][l.n] = t, v
	l.n++
	e.held++
	e.rows++
	if l.n >= l.size {
		e.held -= l.n
		return l.flush(e.sink)
	}
	if e.held >= maxLongHeld {
		return e.flush()
	}
	return nil
}

// again begins a new part: rows stand in the order of time, so every channel begins anew with the one that fell first.
func (e *long) again(l *lane, cells [][]byte) error {
	l.clock.redate(cells, &e.num)
	if err := e.restart(l, e.lanes); err != nil {
		return err
	}
	e.held, e.carried = 0, 0
	e.clock.start, e.clock.zoned = l.clock.start, l.clock.zoned
	for _, x := range e.lanes {
		x.falls = e.parts
		if x == l {
			continue
		}
		x.clock.follow = follower{tick: x.clock.follow.tick}
		x.clock.start, x.clock.zoned = l.clock.start, l.clock.zoned
		if err := x.redate(e.sink); err != nil {
			return err
		}
	}
	return nil
}

func anyFilled(cells [][]byte) bool {
	for _, c := range cells {
		if len(c) > 0 {
			return true
		}
	}
	return false
}

// lane finds a channel's lane by name and unit, or declares it. It is nil beyond the most that are held.
func (e *long) lane(name, unit []byte) (*lane, error) {
	was := e.latest
	if was >= 0 {
		next := e.turns[was].next
		if t := &e.turns[next]; t.name == string(name) && t.unit == string(unit) {
			e.latest = next
			return e.lanes[next], nil
		}
	}
	e.key = append(append(append(e.key[:0], name...), 0), unit...)
	at, ok := e.byKey[string(e.key)]
	if !ok {
		if l, err := e.newLane(name, unit); l == nil || err != nil {
			return nil, err
		}
		at = len(e.lanes) - 1
		e.byKey[string(e.key)] = at
		e.turns = append(e.turns, turn{name: string(name), unit: string(unit), bare: e.bare(name) && e.bare(unit)})
	}
	if e.latest = at; was >= 0 {
		e.turns[was].next = at
	}
	return e.lanes[at], nil
}

// newLane declares a channel. It is nil beyond the most that are held.
func (e *long) newLane(name, unit []byte) (*lane, error) {
	if len(e.lanes) >= maxChannels {
		e.tally.add("too_many_channels", e.scan.line-1, name)
		return nil, nil
	}
	ch := schema.Channel{Name: text(name), Unit: bare(text(unit))}
	if name, unit := splitName(ch.Name); ch.Unit == "" || ch.Unit == unit {
		ch.Name, ch.Unit = name, unit
	}
	group := ch.Name
	if e.named[group] {
		group += " " + bracket(ch.Unit)
	}
	e.named[ch.Name] = true
	k := e.clock
	k.follow = follower{carry: e.carried, tick: k.follow.tick}
	l, err := newLane(e.sink, group, k, []schema.Channel{ch})
	if err != nil {
		return nil, err
	}
	l.falls = e.parts
	e.lanes = append(e.lanes, l)
	return l, nil
}
