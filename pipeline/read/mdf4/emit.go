package mdf4

import (
	"math"

	"dynolake/schema"
)

// exact is the largest whole number below which a float64 holds all of them.
const exact = 1 << 53

// emitter turns records into batches.
type emitter struct {
	*file
	start  begin
	rows   int64
	empty  int // Groups without rows.
	t      []float64
	cells  []float64
	values [][]float64
	texts  []schema.Text
}

// room makes the batch's slices, which are used again for every batch of every group.
func (e *emitter) room(channels, n int) {
	if cap(e.t) < n {
		e.t = make([]float64, n)
	}
	if cap(e.cells) < channels*n {
		e.cells = make([]float64, channels*n)
	}
	e.t, e.values, e.texts = e.t[:n], e.values[:0], e.texts[:0]
	for i := range channels {
		e.values = append(e.values, e.cells[i*n:(i+1)*n:(i+1)*n])
	}
}

// emit passes n rows on that the sheet's banks hold.
func (e *emitter) emit(s *sheet, row int64, n int) error {
	e.room(len(s.lanes), n)
	first := s.banks[0]
	first.numbers(s.clock, e.t, row)
	convertAll(s.clock.conv, e.t, nil)
	bad := 0
	for i := range e.t {
		if e.t[i] *= s.scale; math.IsNaN(e.t[i]) || math.IsInf(e.t[i], 0) {
			bad++
		}
	}
	for i := range s.lanes {
		if err := e.lane(s, i, row); err != nil {
			return err
		}
	}
	if bad > 0 {
		e.count(schema.Doubt, "rows_without_time", s.clock.name, bad, nil, "group "+escaped(s.name)+": %d rows have no time and are left out")
		n = e.timed()
	}
	if n == 0 {
		return nil
	}
	e.rows += int64(n)
	return e.sink.Rows(s.handle, schema.Batch{T: e.t, Values: e.values, Texts: e.texts})
}

// lane fills one channel's values.
func (e *emitter) lane(s *sheet, i int, row int64) error {
	l, v := &s.lanes[i], e.values[i]
	switch {
	case l.bank.lost || l.flags&allInvalid != 0:
		for k := range v {
			v[k] = math.NaN()
		}
		return nil
	case l.text():
		return e.words(l, i, v)
	case l.take != nil && e.gathered(l, v):
		return nil
	}
	l.bank.numbers(l.channel, v, row)
	if l.field.bits > 53 && !l.field.float && !l.virtual() {
		e.large(l, v)
	}
	vain := convertAll(l.conv, v, func(k int, text string) { e.texts = append(e.texts, schema.Text{Row: k, Channel: i, Text: text}) })
	if vain > 0 {
		e.count(schema.Note, "conversion_has_none", l.name, vain, nil, escaped(l.name)+": %d stored numbers mean nothing by its conversion and are missing")
	}
	if l.conv != nil || l.field.float {
		e.finite(l, v)
	}
	return nil
}

// gathered fills a channel's values at one go. It is false where they are to be read step by step after all: some are infinite, or
// there are large ones and not all count.
func (e *emitter) gathered(l *lane, v []float64) bool {
	b, stride := l.bank.buf.at(l.field.offset, l.field.bytes, len(v))
	odd := l.take(v, b, stride, l.line)
	if odd > 0 && (l.field.float || l.flags&hasInvalid != 0) {
		return false
	}
	e.beyond(l, int(odd))
	l.bank.blank(l.channel, v)
	return true
}

// numbers reads a channel's stored numbers; those that are marked invalid are missing.
func (b *bank) numbers(c *channel, v []float64, row int64) {
	if c.virtual() {
		for i := range v {
			v[i] = float64(row + int64(i))
		}
		return
	}
	f := c.field
	recs, stride := b.buf.at(f.offset, f.bytes, len(v))
	f.offset = 0
	f.fill(v, recs, stride)
	b.blank(c, v)
}

// blank makes numbers missing that are marked invalid.
func (b *bank) blank(c *channel, v []float64) {
	if c.flags&hasInvalid == 0 {
		return
	}
	m := b.marks(c, len(v))
	for i := range v {
		if m.invalid(i) {
			v[i] = math.NaN()
		}
	}
}

// convertAll turns stored numbers into meant ones, gives texts to say and counts the numbers that mean nothing.
func convertAll(c conversion, v []float64, say func(i int, text string)) (vain int) {
	switch c := c.(type) {
	case nil:
	case many:
		c.all(v)
	default:
		for i, x := range v {
			if math.IsNaN(x) {
				continue
			}
			y, text := c.number(x)
			v[i] = y
			switch {
			case text != "" && say != nil:
				say(i, text)
			case math.IsNaN(y) && text == "":
				vain++
			}
		}
	}
	return vain
}

// large notes integers that a float64 cannot hold exactly.
func (e *emitter) large(l *lane, v []float64) {
	n := 0
	for _, x := range v {
		if x > exact || x < -exact {
			n++
		}
	}
	e.beyond(l, n)
}

func (e *emitter) beyond(l *lane, n int) {
	if n > 0 {
		e.count(schema.Note, "beyond_double", l.name, n, nil, escaped(l.name)+": %d whole numbers beyond 2^53 are kept as the nearest that a double holds")
	}
}

// finite makes infinities missing.
func (e *emitter) finite(l *lane, v []float64) {
	n := 0
	for i, x := range v {
		if x-x != 0 && !math.IsNaN(x) {
			v[i] = math.NaN()
			n++
		}
	}
	if n > 0 {
		e.count(schema.Doubt, "infinite_value", l.name, n, nil, escaped(l.name)+": %d values are infinite and taken as missing")
	}
}

// timed drops the rows without a time and returns how many are left.
func (e *emitter) timed() int {
	to := make([]int, len(e.t))
	n := 0
	for i, t := range e.t {
		to[i] = -1
		if !math.IsNaN(t) && !math.IsInf(t, 0) {
			to[i] = n
			n++
		}
	}
	shift := func(v []float64) []float64 {
		for i, k := range to {
			if k >= 0 {
				v[k] = v[i]
			}
		}
		return v[:n]
	}
	for i := range e.values {
		e.values[i] = shift(e.values[i])
	}
	e.t = shift(e.t)
	kept := e.texts[:0]
	for _, x := range e.texts {
		if x.Row = to[x.Row]; x.Row >= 0 {
			kept = append(kept, x)
		}
	}
	e.texts = kept
	return n
}
