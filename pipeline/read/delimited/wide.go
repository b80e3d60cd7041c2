package delimited

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"

	"dynolake/schema"
)

// use says what a column of a wide or paired table is for.
type use uint8

const (
	unused use = iota
	channel
	clockCell
	dateCell
)

type target struct {
	use  use
	drop bool // An unnamed column that was empty: a value in it is counted.
	lane int
	ch   int
	unit []byte // What stands behind each number.
}

// wide reads rows that hold a value a column, on one clock or on several side by side.
type wide struct {
	*run
	plan    *plan
	num     numerals
	lanes   []*lane
	targets []target
	spots   []spot    // A column each.
	at      []reading // A lane each: what the row says of its clock.
	room    [][]byte
	prev    int  // Cells of the row before.
	extra   bool // The row at hand has cells beyond the header.
}

// reading is a lane's clock in the row at hand.
type reading struct {
	cell, date []byte
	number     [1]float64 // The clock's, where it is a plain one and read already; NaN where not.
	t          float64
	ok         bool
	values     int // Cells that held something.
	texts      int // Texts of the lane before the row.
}

func (r *run) newWide(p *plan) (*wide, error) {
	e := &wide{run: r, plan: p, num: numerals{point: p.point, tally: r.tally}, targets: make([]target, p.width), spots: make([]spot, p.width), at: make([]reading, len(p.bundles)), prev: p.width}
	for i := range e.targets {
		e.targets[i].drop = !p.cols[i].kept()
	}
	taken := map[string]int{}
	for i := range p.bundles {
		b := &p.bundles[i]
		var channels []schema.Channel
		for j, c := range b.channels {
			e.targets[c] = target{use: channel, lane: i, ch: j}
			channels = append(channels, schema.Channel{Name: p.cols[c].name, Unit: p.cols[c].unit, Comment: p.cols[c].comment})
		}
		if b.clock.col >= 0 {
			e.targets[b.clock.col] = target{use: clockCell, lane: i}
		}
		if b.clock.date >= 0 {
			e.targets[b.clock.date] = target{use: dateCell, lane: i}
		}
		name := ""
		if len(p.bundles) > 1 {
			name = channels[0].Name
			if taken[name]++; taken[name] > 1 {
				name = fmt.Sprintf("%s %d", name, taken[name])
			}
		}
		l, err := newLane(r.sink, name, b.clock, channels)
		if err != nil {
			return nil, err
		}
		e.lanes = append(e.lanes, l)
		e.place(i)
	}
	for c := range e.targets {
		e.targets[c].unit = p.cols[c].suffix
	}
	return e, nil
}

// place says where the plain numbers of a lane go. Values are counted where the clock may be empty, or where there is none.
func (e *wide) place(lane int) {
	b, l := &e.plan.bundles[lane], e.lanes[lane]
	for _, c := range b.channels {
		e.spots[c].row = &l.n
		if len(e.plan.bundles) > 1 || b.clock.form == counted {
			e.spots[c].seen = &e.at[lane].values
		}
	}
	if c := b.clock.col; c >= 0 && l.clock.numeric() {
		e.spots[c] = spot{dst: e.at[lane].number[:], row: new(int)}
	}
}

// begin makes room for a row and clears what the last one left.
func (e *wide) begin() {
	e.extra = false
	for i, l := range e.lanes {
		if l.n == len(l.t) {
			l.grow()
			for j, c := range e.plan.bundles[i].channels {
				e.spots[c].dst = l.values[j]
			}
		}
		e.at[i] = reading{texts: len(l.texts), number: [1]float64{math.NaN()}}
	}
}

// fast reads one line without cutting it into cells first. It is false when a quoted cell needs the whole record.
func (e *wide) fast(line []byte) (cells int, ok bool) {
	delim := e.plan.delim
	ahead := line[:min(cap(line), len(line)+24)] // The buffer goes on behind the line.
	for i, col := 0, 0; ; col++ {
		if col, i = e.numbers(ahead, len(line), col, i); i > len(line) {
			return col, true
		}
		for i < len(line) && line[i] == ' ' {
			i++
		}
		point := e.outside()
		v, end := 0.0, i
		if i+17 < len(ahead) {
			v, end = quick(ahead, i, point)
		}
		if end == i || end > len(line) {
			v, end = plain(line, i, point)
		}
		switch {
		case end > i && ended(line, end, len(line), delim):
			if col >= len(e.spots) || !e.spots[col].keep(v) {
				e.put(col, line[i:end])
			}
		case i < len(line) && line[i] == '"':
			cell, stop, closed := quoted(line, i, delim)
			if !closed {
				return col, false
			}
			end = stop
			e.put(col, cell)
		default:
			if end = len(line); i < end {
				if k := bytes.IndexByte(line[i:], delim); k >= 0 {
					end = i + k
				}
			}
			e.put(col, trim(line[i:end]))
		}
		if end >= len(line) {
			return col + 1, true
		}
		i = end + 1
	}
}

// outside is the decimal sign outside of quotes: none where it is the delimiter too.
func (e *wide) outside() byte {
	if e.num.point == e.plan.delim {
		return unseen
	}
	return e.num.point
}

// slow reads a row from its cells.
func (e *wide) slow(cells [][]byte) {
	for i, c := range cells {
		e.put(i, c)
	}
}

// put takes one cell, as whatever it is.
func (e *wide) put(col int, cell []byte) {
	if col >= len(e.targets) {
		e.extra = e.extra || len(cell) > 0
		return
	}
	t := &e.targets[col]
	if t.unit != nil {
		cell = trim(bytes.TrimSuffix(cell, t.unit))
	}
	switch t.use {
	case clockCell:
		e.at[t.lane].cell = cell
	case dateCell:
		e.at[t.lane].date = cell
	case channel:
		l := e.lanes[t.lane]
		v, s := e.value(cell)
		if s != "" {
			l.texts = append(l.texts, schema.Text{Row: l.n, Channel: t.ch, Text: s})
		}
		if len(cell) > 0 {
			e.at[t.lane].values++
		}
		l.values[t.ch][l.n] = v
	case unused:
		if t.drop && len(cell) > 0 {
			e.tally.add("unnamed_value", e.scan.line-1, cell)
		}
	}
}

// value reads a cell: a number, or NaN with the text where it is one.
func (r *run) cell(n *numerals, cell []byte) (float64, string) {
	if v, ok := n.parse(cell, r.scan.line-1); ok {
		return v, ""
	}
	switch voidOf(cell) {
	case empty, missing:
		return math.NaN(), ""
	case infinite:
		r.tally.add("infinite_value", r.scan.line-1, cell)
		return math.NaN(), ""
	}
	return math.NaN(), r.intern(cell)
}

func (e *wide) value(cell []byte) (float64, string) { return e.cell(&e.num, cell) }

// table reads rows until the file ends or a header with other columns comes, whose plan it returns.
func (r *run) table(p *plan) (*plan, error) {
	if p.long != nil {
		return r.longTable(p)
	}
	e, err := r.newWide(p)
	if err != nil {
		return nil, err
	}
	for n := 0; ; n++ {
		if n&1023 == 0 && r.ctx.Err() != nil {
			return nil, r.ctx.Err()
		}
		line, whole, err := r.scan.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		next, err := e.row(line, whole)
		if err != nil || next != nil {
			return next, err
		}
	}
	return nil, e.flush()
}

func (e *wide) flush() error {
	for _, l := range e.lanes {
		if err := l.flush(e.sink); err != nil {
			return err
		}
	}
	return nil
}

// row reads one line. A plan is returned when it is a header with other columns.
func (e *wide) row(line []byte, whole bool) (*plan, error) {
	e.begin()
	cells, ok := 0, false
	if e.plan.delim != blanks {
		cells, ok = e.fast(line)
	}
	if !ok {
		e.undo()
		e.begin()
		line = append([]byte(nil), line...) // Reading on moves the buffer.
		all, err := e.nextRecord(e.plan, e.plan.width, e.room)
		if err != nil {
			return nil, err
		}
		e.room = all
		cells = len(all)
		e.slow(all)
	}
	if !whole && cutShort(line, cells, e.prev) {
		e.undo()
		e.cutLast(line)
		return nil, nil
	}
	kept, err := e.accept(line, cells)
	if err != nil {
		return nil, err
	}
	if kept {
		if e.extra {
			e.tally.add("long_row", e.scan.line-1, nil)
		}
		e.prev = cells
		return nil, nil
	}
	return e.stray(e.plan, line, e.flush)
}

// cutShort reports a last line without an ending that has fewer cells than the row before it, or an open quote.
func cutShort(line []byte, cells, prev int) bool {
	return cells < prev || bytes.Count(line, []byte{'"'})%2 == 1
}
