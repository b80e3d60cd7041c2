package mdf4

import (
	"dynolake/schema"
)

// bank is a group's records, or a column of them, while they are read.
type bank struct {
	*file
	g      *group
	data   *stream
	apart  *stream // Validity bytes that stand apart; nil when they end each record, or when there are none.
	stride int     // Bytes of a record in data.
	rows   int64

	buf   records // Records at hand.
	valid records // Their validity bytes, when apart.
	lost  bool    // The rows at hand cannot be used.
}

// newBank works out how many whole records a group has. It returns nil when its data cannot be used, which is reported.
func (f *file) newBank(g *group, s, apart *stream) *bank {
	if g.dataBytes > longestRecord || g.validBytes > longestRecord {
		f.setAsideGroup(g, "records of %d and %d bytes are longer than the %d that are read", g.dataBytes, g.validBytes, longestRecord)
		return nil
	}
	b := &bank{file: f, g: g, data: s, stride: g.record()}
	if len(s.parts) > 0 && s.parts[0].id == "DV" {
		b.stride = g.dataBytes
		if apart != nil && g.dataBytes > 0 && g.validBytes > 0 {
			apart.align(s, int64(g.dataBytes), int64(g.validBytes))
			b.apart = apart
		}
	}
	if b.stride == 0 {
		b.rows = g.cycles
		return b
	}
	s.settlePacking(b.stride)
	if b.apart != nil {
		b.apart.settlePacking(g.validBytes)
	}
	unit := int64(1)
	if apart != nil {
		unit = int64(b.stride)
	}
	s.settleClaims(unit, b.total())
	var ok bool
	if b.rows, ok = b.whole(); !ok {
		return nil
	}
	return b
}

// total is the size of the data by the group's own counts, -1 when that cannot be.
func (b *bank) total() int64 {
	if b.g.cycles > (1<<62)/int64(b.stride) {
		return -1
	}
	return b.g.cycles * int64(b.stride)
}

// whole is the number of records that can be trusted. Of the record's length, the counter and the data's length, two that agree
// win over the third.
func (b *bank) whole() (int64, bool) {
	g, n, rec := b.g, b.data.size/int64(b.stride), int64(b.stride)
	switch {
	case b.data.cut != nil:
		b.lose(b.data.cut)
		if b.unfinished&staleCycles == 0 {
			n = min(n, g.cycles)
		}
		b.find(schema.Doubt, "data_cut", "", float64(n), "rows", b.data.cut.Error()+": what is whole before it is read of group "+quoted(g.name))
		return n, true
	case b.total() == b.data.size, b.unfinished&staleCycles != 0:
		return n, true
	}
	one := g.cycles > 0 && b.data.size%g.cycles == 0 && b.data.size > 0 // Then another length of records would explain all.
	switch fits := b.data.size%rec == 0; {
	case one:
		b.setAsideGroup(g, "%d cycles of %d bytes and data of %d bytes contradict each other, and records of %d bytes would agree: the length of its records is in doubt", g.cycles, rec, b.data.size, b.data.size/g.cycles)
		return 0, false
	case fits:
		b.find(schema.Doubt, "cycles_disagree", "", float64(n), "rows", harm("CG", g.at, "%d cycles, and data for exactly %d: all %d are read", g.cycles, n, n).Error())
		return n, true
	case g.cycles < n:
		b.find(schema.Doubt, "cycles_disagree", "", float64(g.cycles), "rows", harm("CG", g.at, "%d cycles of %d bytes in data of %d bytes: the first %d are read", g.cycles, rec, b.data.size, g.cycles).Error())
		return g.cycles, true
	}
	b.find(schema.Doubt, "cycles_disagree", "", float64(n), "rows", harm("CG", g.at, "%d cycles of %d bytes, and data of %d bytes: the %d whole ones are read", g.cycles, rec, b.data.size, n).Error())
	return n, true
}

func (f *file) setAsideGroup(g *group, format string, args ...any) {
	err := harm("CG", g.at, format, args...)
	f.lose(err)
	f.reject("group_lost", "%s: group %s is set aside", err, quoted(g.name))
}

// load reads up to n records from a row on and returns how many are alike: all read, or all lost.
func (b *bank) load(row int64, n int) (int, error) {
	b.lost = false
	if row >= b.rows {
		b.lost = true
		return n, nil
	}
	n = int(min(int64(n), b.rows-row))
	if b.stride == 0 {
		return n, nil
	}
	b.buf.stride, b.valid.stride = b.stride, b.g.validBytes
	n, err := b.part(b.data, &b.buf, row, n)
	if err != nil || b.lost || b.apart == nil {
		return n, err
	}
	return b.part(b.apart, &b.valid, row, n)
}

// part points r at rows of a stream: where they stand in memory, or copied.
func (b *bank) part(s *stream, r *records, row int64, n int) (int, error) {
	stride := int64(r.stride)
	off := row * stride
	if k := s.view(r, n, off); k > 0 {
		return k, nil
	}
	err := s.read(r.copied(n), off)
	h, ok := holeIn(err)
	if !ok {
		return n, err
	}
	if k := int((h.from - off) / stride); k > 0 {
		if err := s.read(r.copied(k), off); err != nil {
			return 0, err
		}
		return k, nil
	}
	n = int(min(int64(n), max(1, (h.to+stride-1)/stride-row)))
	b.lost = true
	b.lose(h.err)
	b.count(schema.Doubt, "rows_lost", "", n, h.err, "group "+escaped(b.g.name)+": %d rows of damaged blocks are lost")
	return n, nil
}
