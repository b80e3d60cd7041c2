package mdf4

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"github.com/klauspost/compress/zlib"
)

// mostBlock is how many bytes one data block holds before packing, as the standard has it.
const mostBlock = 4 << 20

// chunks writes data blocks of one kind and the list that holds them.
type chunks struct {
	*out
	id      string
	columns int // Above 0: transposed by so many bytes a row.
	plain   bool
	blocks  []*block
	starts  []uint64
	size    uint64
	packed  bytes.Buffer
	turned  []byte
}

// add writes one block.
func (c *chunks) add(b []byte) error {
	k := &block{id: c.id, data: b}
	if !c.plain {
		var err error
		if k, err = c.pack(b); err != nil {
			return err
		}
	}
	if err := c.put(k); err != nil {
		return err
	}
	k.data = nil
	c.blocks, c.starts = append(c.blocks, k), append(c.starts, c.size)
	c.size += uint64(len(b))
	return nil
}

// pack makes a DZ block.
func (c *chunks) pack(b []byte) (*block, error) {
	head := make([]byte, 24)
	copy(head, c.id)
	le.PutUint64(head[8:], uint64(len(b)))
	if c.columns > 0 {
		head[2] = 1
		le.PutUint32(head[4:], uint32(c.columns))
		b = c.turn(b)
	}
	c.packed.Reset()
	c.packed.Write(head)
	z := zlib.NewWriter(&c.packed)
	if _, err := z.Write(b); err != nil {
		return nil, fmt.Errorf("pack MDF data: %w", err)
	}
	if err := z.Close(); err != nil {
		return nil, fmt.Errorf("pack MDF data: %w", err)
	}
	data := c.packed.Bytes()
	le.PutUint64(data[16:], uint64(len(data)-24))
	return &block{id: "DZ", data: data}, nil
}

// turn puts all first bytes of the rows before all second ones.
func (c *chunks) turn(b []byte) []byte {
	rows := len(b) / c.columns
	if cap(c.turned) < len(b) {
		c.turned = make([]byte, len(b))
	}
	t := c.turned[:len(b)]
	for r := range rows {
		for i, v := range b[r*c.columns : (r+1)*c.columns] {
			t[i*rows+r] = v
		}
	}
	copy(t[rows*c.columns:], b[rows*c.columns:])
	return t
}

// close writes the list and returns what to link to: the only block, or the list; nil when there is no data.
func (c *chunks) close() (*block, error) {
	if len(c.blocks) == 0 {
		return nil, nil
	}
	if len(c.blocks) == 1 {
		return c.blocks[0], nil
	}
	dl := &block{id: "DL", links: append([]*block{nil}, c.blocks...), data: make([]byte, 8)}
	le.PutUint32(dl.data[4:], uint32(len(c.blocks)))
	for _, at := range c.starts {
		dl.data = le.AppendUint64(dl.data, at)
	}
	if err := c.put(dl); err != nil || c.plain {
		return dl, err
	}
	hl := &block{id: "HL", links: []*block{dl}, data: make([]byte, 8)}
	if c.columns > 0 {
		hl.data[2] = 1
	}
	return hl, c.put(hl)
}

// records writes a group's records.
func (o *out) records(t []float64, columns []column, width, valid int, plain bool) (*block, error) {
	rec := width + valid
	c := &chunks{out: o, id: "DT", columns: rec, plain: plain}
	per := max(1, mostBlock/rec)
	buf := make([]byte, min(per, len(t))*rec)
	for from := 0; from < len(t); from += per {
		n := min(per, len(t)-from)
		b := buf[:n*rec]
		clear(b)
		for i := range n {
			le.PutUint64(b[i*rec:], math.Float64bits(t[from+i]))
		}
		for k := range columns {
			columns[k].fill(b, from, n, 8*(k+1), rec, width)
		}
		if err := c.add(b); err != nil {
			return nil, err
		}
	}
	return c.close()
}

// fill puts a column's n rows into records.
func (k *column) fill(b []byte, from, n, at, rec, width int) {
	for i := range n {
		if k.raw != nil {
			le.PutUint64(b[i*rec+at:], math.Float64bits(k.raw[from+i]))
		} else {
			le.PutUint64(b[i*rec+at:], k.offsets[from+i])
		}
		if k.missing != nil && k.missing[from+i] {
			b[i*rec+width+k.bit/8] |= 1 << (k.bit % 8)
		}
	}
}

// texts writes a channel's texts, each but once in a row, and sets the column's offsets.
func (o *out) texts(k *column, texts map[int]string, plain bool) (*block, error) {
	c := &chunks{out: o, id: "SD", plain: plain}
	var b []byte
	last, known, at := "", false, uint64(0)
	for i := range k.offsets {
		s := strings.ToValidUTF8(strings.ReplaceAll(texts[i], "\x00", ""), "\ufffd")
		if !known || s != last {
			if len(b) > 0 && len(b)+len(s)+5 > mostBlock {
				if err := c.add(b); err != nil {
					return nil, err
				}
				b = b[:0]
			}
			at, last, known = c.size+uint64(len(b)), s, true
			b = le.AppendUint32(b, uint32(len(s)+1))
			b = append(append(b, s...), 0)
		}
		k.offsets[i] = at
	}
	if len(b) > 0 {
		if err := c.add(b); err != nil {
			return nil, err
		}
	}
	return c.close()
}
