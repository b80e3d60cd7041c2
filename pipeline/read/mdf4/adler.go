package mdf4

// adler is the checksum of RFC 1950. Eight bytes are added at once, in lanes of 16 bits: the sums of each of the eight places, and
// the sums of those sums, which count a byte once for each word from its own to the stretch's end.
func adler(p []byte) uint32 {
	const (
		prime   = 65521
		words   = 21 // 255·21·22/2 and (2+4+6)·255·21 both fit into 16 bits.
		stretch = 8 * words
		lanes   = 0x00FF00FF00FF00FF
	)
	a, b := uint64(1), uint64(0)
	for len(p) >= stretch {
		var even, odd, evens, odds uint64
		for q := p[:stretch]; len(q) >= 8; q = q[8:] {
			w := le.Uint64(q)
			even += w & lanes
			odd += w >> 8 & lanes
			evens += even
			odds += odd
		}
		b += stretch*a + 8*(across4(evens)+across4(odds)) - places(even) - places(odd) - across4(odd)
		a += across4(even) + across4(odd)
		a, b = a%prime, b%prime
		p = p[stretch:]
	}
	for _, c := range p {
		a += uint64(c)
		b += a
	}
	return uint32(b%prime<<16 | a%prime)
}

// across4 adds four lanes of 16 bits.
func across4(x uint64) uint64 {
	const pairs = 0x0000FFFF0000FFFF
	x = x&pairs + x>>16&pairs
	return x&0xFFFFFFFF + x>>32
}

// places adds four lanes times 0, 2, 4 and 6, where that fits into 16 bits.
func places(x uint64) uint64 { return x * (6 | 4<<16 | 2<<32) >> 48 }
