package delimited

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// spot is where the plain numbers of a column go.
type spot struct {
	dst  []float64 // Nil where a column's cells need more of a look.
	row  *int      // Where in dst.
	seen *int      // Counts them.
}

// keep keeps a number. It is false for a column whose cells need more of a look.
func (s *spot) keep(v float64) bool {
	if s.dst == nil {
		return false
	}
	s.dst[*s.row] = v
	if s.seen != nil {
		*s.seen++
	}
	return true
}

// ended reports that a cell ends at a byte of a line of n bytes.
func ended(b []byte, end, n int, delim byte) bool { return end == n || end < n && b[end] == delim }

// numbers reads cells from the col-th on, which begins at i, as long as they are plain numbers of up to seven digits on either
// side of the decimal sign. It returns the cell at which it stopped, beyond n when it has read all of the line's n bytes; b goes
// on behind the line, where anything may stand. It is what quick does, save that nothing is left between cells.
func (e *wide) numbers(b []byte, n, col, i int) (int, int) {
	spots, delim, point := e.spots, e.plan.delim, uint64(e.outside()^'0')*ones
	for ; i >= 0 && i <= len(b)-18 && col < len(spots); col++ {
		at, sign := i, uint64(0)
		w := binary.LittleEndian.Uint64(b[i:])
		if c := byte(w); c <= '-' {
			if c != '-' {
				return col, i
			}
			at, sign = i+1, 1<<63
			w = binary.LittleEndian.Uint64(b[at:])
		}
		d := w ^ zeros
		other := (d + above9 | d) & tops
		upTo := other ^ (other - 1) // The bytes up to the first that is no digit.
		whole := bits.TrailingZeros64(other) >> 3
		if whole == 0 || whole == 8 {
			return col, i
		}
		var v float64
		end := at + whole
		if (d^point)&(upTo^upTo>>8) != 0 {
			v = float64(eight(d << (-uint(whole) << 3 & 63)))
			if !ended(b, end, n, delim) {
				return col, i
			}
		} else {
			all := bits.TrailingZeros64(other&(other-1)) >> 3
			v = float64(eight((d^(d^d<<8)&upTo)<<(-uint(all)<<3&63))) / pow10[all-whole-1] // The decimal sign falls out.
			if end = at + all; all == whole+1 || !ended(b, end, n, delim) {
				if v, end = split8(b, at, whole); end < 0 || !ended(b, end, n, delim) {
					return col, i
				}
			}
		}
		if !spots[col].keep(math.Float64frombits(math.Float64bits(v) ^ sign)) {
			return col, i
		}
		i = end + 1
	}
	return col, i
}
