package mdf4

// inflater unpacks zlib data (RFC 1950, RFC 1951) that stands in memory whole into memory that is as large as what comes out. Both
// ends being known it takes about half the library's time. What it refuses the library is asked about, which says what is wrong.
type inflater struct {
	in    []byte
	at    int    // Of the next byte to take.
	bits  uint64 // Bits taken, the next the lowest; what lies above those is the bytes from at on, or 0.
	have  uint   // How many of them.
	lits  codes
	dists codes
	sizes codes
}

func newInflater() *inflater {
	return &inflater{lits: newCodes(litRoot), dists: newCodes(distRoot), sizes: newCodes(sizeRoot)}
}

// unpack fills dst. It is false when in is damaged, or holds more or less than that.
func (z *inflater) unpack(dst, in []byte) bool {
	const deflate, dictionary = 8, 1 << 5
	if len(in) < 6 || in[0]&15 != deflate || in[0]>>4 > 7 || (uint(in[0])<<8|uint(in[1]))%31 != 0 || in[1]&dictionary != 0 {
		return false
	}
	z.in, z.at, z.bits, z.have = in, 2, 0, 0
	n, ok, last := 0, true, false
	for ok && !last {
		z.more()
		if z.have < 3 {
			return false
		}
		last = z.take(1) == 1
		switch z.take(2) {
		case 0:
			n, ok = z.stored(dst, n)
		case 1:
			ok = z.fixed()
			if ok {
				n, ok = z.block(dst, n)
			}
		case 2:
			ok = z.dynamic()
			if ok {
				n, ok = z.block(dst, n)
			}
		default:
			ok = false
		}
	}
	z.at -= int(z.have >> 3)
	return ok && n == len(dst) && len(in)-z.at >= 4 && be.Uint32(in[z.at:]) == adler(dst)
}

// more takes bytes until there are 56 bits or none is left.
func (z *inflater) more() {
	for z.have < 56 && z.at < len(z.in) {
		z.bits |= uint64(z.in[z.at]) << z.have
		z.at++
		z.have += 8
	}
}

func (z *inflater) take(n uint) uint {
	v := uint(z.bits) & (1<<n - 1)
	z.bits >>= n
	z.have -= n
	return v
}

// stored copies a block that is not packed.
func (z *inflater) stored(dst []byte, n int) (int, bool) {
	z.at -= int(z.have >> 3)
	z.bits, z.have = 0, 0
	if len(z.in)-z.at < 4 {
		return n, false
	}
	size := le.Uint16(z.in[z.at:])
	if size != ^le.Uint16(z.in[z.at+2:]) {
		return n, false
	}
	from := z.in[z.at+4:]
	if len(from) < int(size) || len(dst)-n < int(size) {
		return n, false
	}
	z.at += 4 + int(size)
	return n + copy(dst[n:], from[:size]), true
}

// fixed makes the codes that blocks without their own have.
func (z *inflater) fixed() bool {
	var lengths [288]uint8
	for i := range lengths {
		switch {
		case i < 144:
			lengths[i] = 8
		case i < 256:
			lengths[i] = 9
		case i < 280:
			lengths[i] = 7
		default:
			lengths[i] = 8
		}
	}
	ok := z.lits.build(lengths[:], literals[:])
	for i := range 32 {
		lengths[i] = 5
	}
	return ok && z.dists.build(lengths[:32], distances[:])
}

// dynamic reads the codes that stand at a block's head.
func (z *inflater) dynamic() bool {
	z.more()
	if z.have < 14 {
		return false
	}
	lits, dists, n := 257+z.take(5), 1+z.take(5), 4+z.take(4)
	if lits > 286 || dists > 30 {
		return false
	}
	var sizeOf [19]uint8
	for _, symbol := range []uint8{16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15}[:n] {
		if z.more(); z.have < 3 {
			return false
		}
		sizeOf[symbol] = uint8(z.take(3))
	}
	var lengths [286 + 30]uint8
	return z.sizes.build(sizeOf[:], sizes[:]) && z.lengths(lengths[:lits+dists]) &&
		z.lits.build(lengths[:lits], literals[:]) && z.dists.build(lengths[lits:lits+dists], distances[:])
}

// lengths reads the lengths of both alphabets' codes, which run on from one into the other.
func (z *inflater) lengths(to []uint8) bool {
	for i := 0; i < len(to); {
		z.more()
		e := z.sizes.find(z.bits)
		if e&stop != 0 || z.have < uint(e&15) {
			return false
		}
		z.take(uint(e & 15))
		size, again, more := uint8(e>>16), 1, uint(0)
		switch size {
		case 16:
			if i == 0 {
				return false
			}
			size, again, more = to[i-1], 3, 2
		case 17:
			size, again, more = 0, 3, 3
		case 18:
			size, again, more = 0, 11, 7
		}
		if z.have < more {
			return false
		}
		if again += int(z.take(more)); again > len(to)-i {
			return false
		}
		for range again {
			to[i] = size
			i++
		}
	}
	return true
}
