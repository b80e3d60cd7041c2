package mdf4

import "math"

// column is one channel as it is stored: 8 bytes of each record, and a validity bit where values are missing.
type column struct {
	name, unit, comment string
	raw                 []float64 // Nil for texts.
	offsets             []uint64  // Of texts.
	missing             []bool    // Nil when nothing is.
	bit                 int
	list                *block // Of texts.
	codes               *block // The conversion of codes to texts.
}

// group writes a group's data and returns its DG block and all blocks of its index.
func (o *out) group(g Group, plain bool) (*block, []*block, error) {
	var columns []column
	bits := 0
	for _, c := range g.Channels {
		for _, k := range stored(c, len(g.T)) {
			if k.missing != nil {
				k.bit = bits
				bits++
			}
			if k.offsets != nil {
				var err error
				if k.list, err = o.texts(&k, c.Texts, plain); err != nil {
					return nil, nil, err
				}
			}
			columns = append(columns, k)
		}
	}
	width, valid := 8*(1+len(columns)), (bits+7)/8
	data, err := o.records(g.T, columns, width, valid, plain)
	if err != nil {
		return nil, nil, err
	}
	dg, all := describe(g, columns, width, valid, data)
	return dg, all, nil
}

// describe makes the index of a group.
func describe(g Group, columns []column, width, valid int, data *block) (*block, []*block) {
	name, comment := text(g.Name), text(g.Comment)
	cg := &block{id: "CG", links: []*block{nil, nil, name, nil, nil, comment}, data: make([]byte, 32)}
	le.PutUint64(cg.data[8:], uint64(len(g.T)))
	le.PutUint32(cg.data[24:], uint32(width))
	le.PutUint32(cg.data[28:], uint32(valid))
	dg := &block{id: "DG", links: []*block{nil, cg, data, nil}, data: make([]byte, 8)}
	all := []*block{dg, cg, name, comment}
	clock := column{name: g.Clock.Name, unit: "s", comment: g.Clock.Comment}
	if clock.name == "" {
		clock.name = "time"
	}
	last := clock.channel(0)
	const master, time = 2, 1
	last.data[0], last.data[1] = master, time
	cg.links[1] = last
	all = append(all, last)
	all = append(all, last.links...)
	for i := range columns {
		cn := columns[i].channel(8 * (i + 1))
		last.links[0] = cn
		all = append(all, cn, cn.links[2], cn.links[6], cn.links[7])
		all = append(all, columns[i].conversion()...)
		last = cn
	}
	return dg, present(all)
}

// present drops what is nil, and blocks that are placed already.
func present(all []*block) []*block {
	kept := all[:0]
	for _, b := range all {
		if b != nil && b.at == 0 {
			kept = append(kept, b)
		}
	}
	return kept
}

// channel is a column's CN block.
func (k *column) channel(offset int) *block {
	const anyLength, hasValidity, floatType, textType = 1, 2, 4, 7
	b := &block{id: "CN", links: []*block{nil, nil, text(k.name), nil, k.codes, k.list, text(k.unit), text(k.comment)}, data: make([]byte, 72)}
	b.data[2] = floatType
	if k.offsets != nil {
		b.data[0], b.data[2] = anyLength, textType
	}
	le.PutUint32(b.data[4:], uint32(offset))
	le.PutUint32(b.data[8:], 64)
	if k.missing != nil {
		le.PutUint32(b.data[12:], hasValidity)
		le.PutUint32(b.data[16:], uint32(k.bit))
	}
	return b
}

// conversion lists the blocks of a column's conversion.
func (k *column) conversion() []*block {
	if k.codes == nil {
		return nil
	}
	return append([]*block{k.codes}, k.codes.links...)
}

// stored works out how a channel is stored: as numbers, as texts, or as both.
func stored(c Channel, rows int) []column {
	k := column{name: c.Name, unit: c.Unit, comment: c.Comment}
	texts, numbers := 0, 0
	for _, s := range c.Texts {
		if s != "" {
			texts++
		}
	}
	for i, v := range c.Values {
		if !math.IsNaN(v) && c.Texts[i] == "" {
			numbers++
		}
	}
	if texts == 0 {
		return []column{k.numbers(c, rows)}
	}
	if numbers == 0 {
		return []column{k.words(c, rows)}
	}
	if coded, ok := k.coded(c, rows); ok {
		return []column{coded}
	}
	t := k
	t.name, t.unit = k.name+" (text)", ""
	return []column{k.numbers(c, rows), t.words(c, rows)}
}

func (k column) numbers(c Channel, rows int) column {
	k.raw = make([]float64, rows)
	missing := false
	absent := make([]bool, rows)
	for i := range k.raw {
		k.raw[i] = math.NaN()
		if c.Values != nil && c.Texts[i] == "" {
			k.raw[i] = c.Values[i]
		}
		absent[i] = math.IsNaN(k.raw[i])
		missing = missing || absent[i]
	}
	if missing {
		k.missing = absent
	}
	return k
}

func (k column) words(c Channel, rows int) column {
	k.offsets = make([]uint64, rows)
	absent := make([]bool, rows)
	missing := false
	for i := range absent {
		absent[i] = c.Texts[i] == ""
		missing = missing || absent[i]
	}
	if missing {
		k.missing = absent
	}
	return k
}
