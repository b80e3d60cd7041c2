package delimited

import (
	"math"
	"time"
)

// accept keeps the row in every lane whose clock can be read and says whether there was one.
func (e *wide) accept(line []byte, cells int) (bool, error) {
	any := false
	for i, l := range e.lanes {
		a := &e.at[i]
		k := &l.clock
		if k.form == counted {
			a.t, a.ok = float64(l.rows+int64(l.n))*k.step, a.values > 0
		} else if v := a.number[0]; v == v {
			a.t, a.ok = k.of(v)
		} else if len(a.cell) > 0 {
			a.t, a.ok = k.read(a.cell, a.date, &e.num, e.scan.line-1)
		}
		any = any || a.ok
	}
	if !any {
		e.undo()
		return false, nil
	}
	e.fill(cells)
	for i, l := range e.lanes {
		a := &e.at[i]
		if !a.ok {
			l.texts = l.texts[:a.texts]
			if a.values > 0 {
				e.tally.add("row_without_time", e.scan.line-1, nil)
			}
			continue
		}
		if err := e.keep(i, line); err != nil {
			return true, err
		}
	}
	return true, nil
}

// undo forgets the row.
func (e *wide) undo() {
	for i, l := range e.lanes {
		l.texts = l.texts[:e.at[i].texts]
	}
}

// fill sets what a short row lacks to missing.
func (e *wide) fill(cells int) {
	short := false
	for col := cells; col < len(e.targets); col++ {
		if t := &e.targets[col]; t.use == channel {
			l := e.lanes[t.lane]
			l.values[t.ch][l.n] = math.NaN()
			short = short || len(e.lanes) == 1
		}
	}
	if short {
		e.tally.add("short_row", e.scan.line-1, nil)
	}
}

// keep appends the row to a lane, after carrying its clock on or beginning a new part.
func (e *wide) keep(at int, line []byte) error {
	l, a := e.lanes[at], &e.at[at]
	f := &l.clock.follow
	if f.started && f.isRestart(a.t) && f.overflow(a.t) == 0 {
		line = append([]byte(nil), line...) // Looking ahead moves the buffer.
		if e.glitch(l, f.raw) {
			e.tally.add("clock_glitch", e.scan.line-1, nil)
			l.texts = l.texts[:a.texts]
			return nil
		}
	}
	t, ev := f.next(a.t, l.clock.form)
	switch ev {
	case wrapped:
		e.tally.add("clock_wrapped", e.scan.line-1, nil)
	case fellBack:
		if err := e.again(at, line); err != nil {
			return err
		}
	}
	l.t[l.n] = t
	l.n++
	e.rows++
	if l.n >= l.size {
		return l.flush(e.sink)
	}
	return nil
}

// again begins a new part with the row at hand: what it holds is taken out of its lanes before they are flushed.
func (e *wide) again(at int, line []byte) error {
	l := e.lanes[at]
	l.clock.redate(e.cellsOf(line), &e.num)
	rows := make([]held, len(e.lanes))
	for i := at; i < len(e.lanes); i++ {
		rows[i] = e.lanes[i].take(e.at[i].texts)
	}
	if err := e.restart(l, e.lanes); err != nil {
		return err
	}
	for i := at; i < len(e.lanes); i++ {
		e.at[i].texts = len(e.lanes[i].texts)
		e.lanes[i].put(rows[i])
	}
	return nil
}

// redate moves t = 0 after a restart, by the row's other clock where there is one.
func (c *clock) redate(cells [][]byte, n *numerals) {
	o := c.startFrom
	switch c.form {
	case elapsed, minSec, hourMin, timeOfDay, counted:
	default:
		return
	}
	if o == nil || o.col >= len(cells) || o.date >= len(cells) || c.col >= len(cells) {
		c.start, c.zoned = time.Time{}, false
		return
	}
	var date []byte
	if o.date >= 0 {
		date = cells[o.date]
	}
	when, ok := o.instant(cells[o.col], date, n)
	t, timed := c.read(cells[c.col], nil, n, 0)
	c.start = time.Time{}
	if ok && timed {
		c.start = before(when, t)
	}
}

func (e *wide) cellsOf(line []byte) [][]byte {
	cells, _ := split(line, e.plan.delim, false, nil)
	return cells
}

// glitch reports a lone wrong time: the row behind it goes on where the row before it was, or there is none.
func (e *wide) glitch(l *lane, was float64) bool {
	b, err := e.scan.peek(1)
	if err != nil {
		return false
	}
	if len(b) == 0 {
		return true
	}
	end, _ := lineEnd(b, 0, e.scan.eol)
	cells := e.cellsOf(trimReturn(b[:end]))
	k := &l.clock
	if k.col < 0 || k.col >= len(cells) || k.date >= len(cells) {
		return false
	}
	var date []byte
	if k.date >= 0 {
		date = cells[k.date]
	}
	t, ok := k.read(cells[k.col], date, &e.num, 0)
	return ok && t >= was
}
