package mdf4

// records are rows at hand.
type records struct {
	bytes  []byte // To be read alone: they may stand where they were unpacked.
	stride int    // Bytes of each.
	column int    // Above 0: their bytes stand column by column, so far apart.
	room   []byte // Where they are copied,
	some   []byte // and a few columns of them.
}

// copied makes room for n rows.
func (r *records) copied(n int) []byte {
	if need := n * r.stride; cap(r.room) < need {
		r.room = make([]byte, need)
	}
	r.bytes, r.column = r.room[:n*r.stride], 0
	return r.bytes
}

// at gives width bytes of each of the first n rows from an offset on, and how far it is from one row's to the next's. They stand
// until the next call.
func (r *records) at(offset, width, n int) ([]byte, int) {
	switch {
	case r.column == 0:
		return r.bytes[offset:], r.stride
	case width == 1:
		return r.bytes[offset*r.column:][:n:n], 1
	}
	if need := n * width; cap(r.some) < need {
		r.some = make([]byte, need)
	}
	b := r.some[:n*width]
	lay(b, r.bytes[offset*r.column:], r.column, width, n)
	return b, width
}

// whole gives the first n rows, one behind the other.
func (r *records) whole(n int) []byte {
	if r.column > 0 {
		in, column := r.bytes, r.column
		lay(r.copied(n), in, column, r.stride, n)
	}
	return r.bytes
}

// marks are a channel's validity bits in the rows at hand.
type marks struct {
	bytes  []byte
	stride int
	mask   byte // 0 where there are none.
}

// invalid reports whether row i holds nothing.
func (m marks) invalid(i int) bool { return m.mask != 0 && m.bytes[i*m.stride]&m.mask != 0 }

// marks finds a channel's validity bits of n rows.
func (b *bank) marks(c *channel, n int) marks {
	at, mask := int(c.validBit/8), byte(1)<<(c.validBit%8)
	var m marks
	switch {
	case c.flags&hasInvalid == 0:
		return m
	case b.apart != nil:
		m.bytes, m.stride = b.valid.at(at, 1, n)
	case b.stride > b.g.dataBytes:
		m.bytes, m.stride = b.buf.at(b.g.dataBytes+at, 1, n)
	default:
		return m
	}
	m.mask = mask
	return m
}
