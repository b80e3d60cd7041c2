package mdf4

const (
	farthest = 300 // Bytes that one turn of the loop may write, those beyond a match's end among them.
	litMask  = 1<<litRoot - 1
)

// block unpacks a block's symbols behind the n bytes of dst that are there.
func (z *inflater) block(dst []byte, n int) (int, bool) {
	for {
		var done, ok bool
		if n, done, ok = z.swift(dst, n); done {
			return n, ok
		}
		if n, done, ok = z.symbol(dst, n); done {
			return n, ok
		}
	}
}

// symbol unpacks one symbol near an end of either side.
func (z *inflater) symbol(dst []byte, n int) (to int, done, ok bool) {
	z.more()
	e := z.lits.find(z.bits)
	used := uint(e & 15)
	if used > z.have {
		return n, true, false
	}
	switch z.take(used); {
	case e&literal != 0 && n < len(dst):
		dst[n] = byte(e >> 16)
		return n + 1, false, true
	case e&(literal|stop) != 0:
		return n, true, e == stop|uint32(used)
	}
	more := uint(e >> 8 & 15)
	if more > z.have {
		return n, true, false
	}
	size := int(e>>16) + int(z.take(more))
	z.more()
	e = z.dists.find(z.bits)
	used, more = uint(e&15), uint(e>>8&15)
	if e&stop != 0 || used+more > z.have {
		return n, true, false
	}
	z.take(used)
	back := int(e>>16) + int(z.take(more))
	if back > n || size > len(dst)-n {
		return n, true, false
	}
	for i := range size {
		dst[n+i] = dst[n+i-back]
	}
	return n + size, false, true
}

// swift unpacks symbols while there is room on either side for whatever comes, up to three literals or a match at each turn.
func (z *inflater) swift(dst []byte, n int) (to int, done, ok bool) {
	in, at, b, have := z.in, z.at, z.bits, z.have
	lits, dists := z.lits.entries, z.dists.entries
	first, ok := (*[1 << litRoot]uint32)(lits), true
	for at <= len(in)-16 && n <= len(dst)-farthest {
		b |= le.Uint64(in[at:]) << (have & 63)
		at += int(63-have) >> 3
		have |= 56
		e := first[b&litMask]
		if e&literal != 0 {
			b, have, dst[n] = b>>(e&15), have-uint(e&15), byte(e>>16)
			if e = first[b&litMask]; e&literal != 0 {
				b, have, dst[n+1] = b>>(e&15), have-uint(e&15), byte(e>>16)
				if e = first[b&litMask]; e&literal != 0 {
					b, have, dst[n+2] = b>>(e&15), have-uint(e&15), byte(e>>16)
					n += 3
					continue
				}
				n++
			}
			n++
			b |= le.Uint64(in[at:]) << (have & 63)
			at += int(63-have) >> 3
			have |= 56
		}
		if e&(onward|stop) != 0 {
			if e&onward != 0 {
				e = lits[e>>16+uint32(b>>litRoot)&(1<<(e>>8&15)-1)]
			}
			if e&literal != 0 {
				b, have, dst[n] = b>>(e&15), have-uint(e&15), byte(e>>16)
				n++
				continue
			}
			if e&stop != 0 {
				b, have, done, ok = b>>(e&15), have-uint(e&15), true, e&^15 == stop
				break
			}
		}
		more := e >> 8 & 15
		size := int(e>>16) + int(b>>(e&15)&(1<<more-1))
		b, have = b>>(e&15+more), have-uint(e&15+more)
		if e = dists[b&(1<<distRoot-1)]; e&onward != 0 {
			e = dists[e>>16+uint32(b>>distRoot)&(1<<(e>>8&15)-1)]
		}
		more = e >> 8 & 15
		back := int(e>>16) + int(b>>(e&15)&(1<<more-1))
		b, have = b>>(e&15+more), have-uint(e&15+more)
		if e&stop != 0 || back > n {
			done, ok = true, false
			break
		}
		repeat(dst[n-back:n+size+8], back, size)
		n += size
	}
	z.at, z.bits, z.have = at, b, have
	return n, done, ok
}

// repeat copies size bytes from the front to back bytes behind it, where they may already be part of what is copied. It may write
// up to 7 bytes more.
func repeat(b []byte, back, size int) {
	if back >= size && size > 32 {
		copy(b[back:back+size], b)
		return
	}
	at, end := back, back+size
	for back < 8 && at < end {
		copy(b[at:at+back], b[:back])
		at += back
		back *= 2
	}
	for from := at - back; at < end; at, from = at+8, from+8 {
		le.PutUint64(b[at:], le.Uint64(b[from:]))
	}
}
