package mdf4

import "math/bits"

// A code's entry tells what its bits mean: in the low four bits how many they are, then at 8 how many more bits are added to its
// value, flags, and at 16 the value. Codes longer than the table's root lead to a table behind it.
const (
	literal = 1 << 12
	stop    = 1 << 13 // The end of a block, or a code that nothing has.
	onward  = 1 << 14 // To the table at the value, by so many more bits.

	litRoot, distRoot, sizeRoot = 11, 9, 7

	longestCode = 15
	noCode      = stop | 1<<16
)

// codes is the table of one alphabet.
type codes struct {
	root    uint
	entries []uint32
}

func newCodes(root uint) codes { return codes{root: root, entries: make([]uint32, 1<<root, 8<<root)} }

// build makes the table from the length of each symbol's code and from what each symbol means. It is false for lengths that make
// no code; as in the library one alone of a single bit does, and none at all.
func (c *codes) build(lengths []uint8, meaning []uint32) bool {
	var count, next [longestCode + 1]int
	for _, n := range lengths {
		count[n]++
	}
	count[0] = 0
	room, longest := 1, uint(0)
	for n := 1; n <= longestCode; n++ {
		next[n] = (next[n-1] + count[n-1]) << 1
		if room = room<<1 - count[n]; room < 0 {
			return false
		}
		if count[n] > 0 {
			longest = uint(n)
		}
	}
	if room > 0 && longest > 0 && (longest != 1 || count[1] != 1) {
		return false
	}
	c.entries = c.entries[:1<<c.root]
	for i := range c.entries {
		c.entries[i] = noCode
	}
	for symbol, n := range lengths {
		if n == 0 {
			continue
		}
		code := uint(bits.Reverse16(uint16(next[n]))) >> (16 - n)
		next[n]++
		if !c.place(code, uint(n), longest, meaning[symbol]|uint32(n)) {
			return false
		}
	}
	return true
}

// place enters a code of n bits, the first bit the lowest, at all places that begin with it.
func (c *codes) place(code, n, longest uint, entry uint32) bool {
	table, width := c.entries, c.root
	if n > c.root {
		at := code & (1<<c.root - 1)
		width = longest - c.root
		if c.entries[at]&onward == 0 {
			from := len(c.entries)
			if from+1<<width > cap(c.entries) {
				return false
			}
			c.entries = c.entries[:from+1<<width]
			for i := range c.entries[from:] {
				c.entries[from+i] = noCode
			}
			c.entries[at] = onward | uint32(from)<<16 | uint32(width)<<8
		}
		table = c.entries[c.entries[at]>>16:]
		code, n = code>>c.root, n-c.root
	}
	for i := code; i < 1<<width; i += 1 << n {
		table[i] = entry
	}
	return true
}

// find is the entry of the code that the bits begin with.
func (c *codes) find(b uint64) uint32 {
	e := c.entries[b&(1<<(c.root&15)-1)]
	if e&onward != 0 {
		e = c.entries[e>>16+uint32(b>>(c.root&15))&(1<<(e>>8&15)-1)]
	}
	return e
}

// What the symbols of RFC 1951, 3.2.5, mean.
var literals, distances, sizes = meanings()

func meanings() (lit [288]uint32, dist [32]uint32, size [19]uint32) {
	for i := range 256 {
		lit[i] = literal | uint32(i)<<16
	}
	lit[256] = stop
	base := uint32(3)
	for i := range uint32(28) {
		more := max(1, i>>2) - 1
		lit[257+i] = base<<16 | more<<8
		base += 1 << more
	}
	lit[285], lit[286], lit[287] = 258<<16, noCode, noCode
	base = 1
	for i := range uint32(30) {
		more := max(1, i>>1) - 1
		dist[i] = base<<16 | more<<8
		base += 1 << more
	}
	dist[30], dist[31] = noCode, noCode
	for i := range size {
		size[i] = uint32(i) << 16
	}
	return lit, dist, size
}
