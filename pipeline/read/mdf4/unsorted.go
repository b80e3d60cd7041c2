package mdf4

import (
	"errors"

	"dynolake/schema"
)

const (
	window   = 256 << 10 // Bytes of the stream that are looked at.
	pocket   = 16 << 10  // Bytes of texts that are gathered before they are put away.
	mostLane = 16 << 20  // Bytes of records that are gathered of all groups together.
)

// kin is one group of an unsorted stream.
type kin struct {
	*sheet
	g      *group
	row    int64 // Rows passed on.
	n      int   // Rows gathered behind them.
	per    int
	found  int64
	spill  *stream
	gather []byte
}

// unsorted passes on groups whose records follow each other in one stream, each behind its id.
func (e *emitter) unsorted(d *dataGroup) error {
	if d.idSize == 0 {
		e.lose(harm("DG", d.at, "%d channel groups without record ids", len(d.groups)))
		e.reject("group_lost", "%s: they cannot be told apart and are set aside", harm("DG", d.at, "%d channel groups without record ids", len(d.groups)))
		return nil
	}
	d.stream.settleClaims(1, -1)
	d.stream.settlePacking(0)
	ids := map[uint64]*kin{}
	any, spills := false, false
	for _, g := range d.groups {
		if ids[g.id] != nil {
			e.setAsideGroup(g, "its record id %d is another group's too", g.id)
			return nil
		}
		k := &kin{g: g}
		ids[g.id] = k
		spills = spills || g.vlsd()
		if g.vlsd() || g.record() > longestRecord || g.record() == 0 {
			continue
		}
		if g.remote != 0 || !e.timedGroup(g) {
			continue
		}
		b := &bank{file: e.file, g: g, data: d.stream, stride: g.record(), buf: records{stride: g.record()}}
		k.sheet = &sheet{name: g.name, clock: g.clock, banks: []*bank{b}}
		k.per = max(1, min(mostRows, min(chunk, mostLane/len(d.groups))/b.stride))
		any = true
	}
	if !any {
		return nil
	}
	if spills {
		if err := e.spill(d, ids); err != nil {
			return err
		}
	}
	return e.deal(d, ids)
}

// deal reads the stream and passes each group's rows on.
func (e *emitter) deal(d *dataGroup, ids map[uint64]*kin) error {
	for _, g := range d.groups {
		k := ids[g.id]
		if k.sheet == nil {
			continue
		}
		b := k.banks[0]
		b.buf.bytes = make([]byte, 1) // Marks that there is no looking ahead.
		ok, err := e.declare(k.sheet)
		if err != nil {
			return err
		}
		if b.buf.bytes = nil; !ok {
			k.sheet = nil
		}
	}
	end, err := e.walk(d, ids, func(k *kin, rec []byte) error {
		if k.sheet == nil || k.g.vlsd() {
			return nil
		}
		b := k.banks[0]
		b.buf.bytes = append(b.buf.bytes, rec...)
		if k.n++; k.n < k.per {
			return nil
		}
		return e.flush(k)
	})
	if err != nil {
		return err
	}
	for _, g := range d.groups {
		if err := e.flush(ids[g.id]); err != nil {
			return err
		}
	}
	e.compare(d, ids, end)
	return nil
}

func (e *emitter) flush(k *kin) error {
	if k.sheet == nil || k.n == 0 {
		return nil
	}
	row, n := k.row, k.n
	k.row, k.n = k.row+int64(k.n), 0
	err := e.emit(k.sheet, row, n)
	k.banks[0].buf.bytes = k.banks[0].buf.bytes[:0]
	return err
}

// compare holds the counters against what was found, and says why the stream ended early.
func (e *emitter) compare(d *dataGroup, ids map[uint64]*kin, end error) {
	if end == nil {
		end = d.stream.cut
	}
	if end != nil {
		e.lose(end)
		e.doubt("data_cut", "", "%s: the groups of the DG block at offset %d end there", end, d.at)
	}
	for _, g := range d.groups {
		if k := ids[g.id]; k.found != g.cycles && e.unfinished&staleCycles == 0 && end == nil {
			e.find(schema.Doubt, "cycles_disagree", "", float64(k.found), "rows", harm("CG", g.at, "%d cycles, and %d records are found", g.cycles, k.found).Error())
		}
		if k := ids[g.id]; k.sheet != nil && k.row == 0 {
			e.empty++
		}
	}
}

// spill gathers the texts that stand between the records, so that they can be found by their offsets.
func (e *emitter) spill(d *dataGroup, ids map[uint64]*kin) error {
	d.spilt = map[int64]*stream{}
	put := func(k *kin) error {
		from := e.scratch.at
		if _, err := e.scratch.Write(k.gather); err != nil {
			return err
		}
		n := int64(len(k.gather))
		k.spill.add(part{id: "SD", at: d.stream.parts[0].at, from: from, stored: n, size: n, in: e.scratch})
		k.gather = k.gather[:0]
		return nil
	}
	for _, g := range d.groups {
		if g.vlsd() {
			k := ids[g.id]
			k.spill = &stream{file: e.file}
			d.spilt[g.at] = k.spill
		}
	}
	_, err := e.walk(d, ids, func(k *kin, rec []byte) error {
		if !k.g.vlsd() {
			return nil
		}
		if k.gather = append(k.gather, rec...); len(k.gather) < pocket {
			return nil
		}
		return put(k)
	})
	for _, g := range d.groups {
		if k := ids[g.id]; err == nil && len(k.gather) > 0 {
			err = put(k)
		}
	}
	return err
}

// walk goes from record to record. A text is given with its 4 bytes of length. What ends the walk early is returned first.
func (e *emitter) walk(d *dataGroup, ids map[uint64]*kin, take func(*kin, []byte) error) (end, err error) {
	w := walker{s: d.stream}
	for _, k := range ids {
		k.found = 0
	}
	for n := 0; ; n++ {
		if n&1023 == 0 && e.ctx.Err() != nil {
			return nil, e.ctx.Err()
		}
		if w.off+int64(w.at) >= w.s.size {
			return nil, nil
		}
		rec, k, err := w.record(d.idSize, ids)
		var h *hole
		if errors.As(err, &h) || isDamage(err) {
			return err, nil
		}
		if err != nil {
			return nil, err
		}
		k.found++
		if err := take(k, rec); err != nil {
			return nil, err
		}
	}
}

// walker is a window on a stream.
type walker struct {
	s   *stream
	off int64 // Of the window.
	buf []byte
	at  int // In the window.
}

// peek gives the next n bytes, which stay valid until the next call.
func (w *walker) peek(n int) ([]byte, error) {
	if w.at+n <= len(w.buf) {
		return w.buf[w.at : w.at+n], nil
	}
	w.off, w.at = w.off+int64(w.at), 0
	size := max(window, n)
	if left := w.s.size - w.off; int64(n) > left {
		return nil, harm("DT", w.s.parts[0].at, "the data ends in mid-record, at %d of its bytes", w.off)
	} else if int64(size) > left {
		size = int(left)
	}
	if cap(w.buf) < size {
		w.buf = make([]byte, size)
	}
	w.buf = w.buf[:size]
	err := w.s.read(w.buf, w.off)
	if h, ok := holeIn(err); ok && h.from-w.off >= int64(n) {
		w.buf = w.buf[:h.from-w.off]
		err = w.s.read(w.buf, w.off)
	}
	if err != nil {
		w.buf = w.buf[:0]
		return nil, err
	}
	return w.buf[:n], nil
}

func (w *walker) record(idSize int, ids map[uint64]*kin) ([]byte, *kin, error) {
	b, err := w.peek(idSize)
	if err != nil {
		return nil, nil, err
	}
	var id uint64
	for i, c := range b {
		id |= uint64(c) << (8 * i)
	}
	k := ids[id]
	if k == nil {
		return nil, nil, harm("DT", w.s.parts[0].at, "a record with the id %d, which no group has, at %d of its bytes", id, w.off+int64(w.at))
	}
	n := k.g.record()
	if k.g.vlsd() {
		if b, err = w.peek(idSize + 4); err != nil {
			return nil, nil, err
		}
		if n = int(le.Uint32(b[idSize:])); n > longestRecord {
			return nil, nil, harm("DT", w.s.parts[0].at, "a text of %d bytes at %d of its bytes", n, w.off+int64(w.at))
		}
		n += 4
	}
	if n > longestRecord+4 {
		return nil, nil, harm("CG", k.g.at, "records of %d bytes are longer than the %d that are read", n, longestRecord)
	}
	if b, err = w.peek(idSize + n); err != nil {
		return nil, nil, err
	}
	w.at += len(b)
	return b[idSize:], k, nil
}
