package delimited

import (
	"encoding/binary"
	"math/bits"
)

var tens = [8]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7}

// quick is plain for the numbers that logs are made of, up to seven digits on either side of the decimal sign, eight bytes at
// a time and without a branch a digit. b runs at least 17 bytes beyond i; what lies behind the number may be anything. end is
// i when the number is of another kind. Eight digits of ASCII become one integer by three multiplications, as D. Lemire
// describes (Number Parsing at a Gigabyte per Second, 2021).
func quick(b []byte, i int, point byte) (v float64, end int) {
	at := i
	negative := b[at] == '-'
	if negative {
		at++
	}
	whole, n := digits8(binary.LittleEndian.Uint64(b[at:]))
	if n == 0 || n == 8 {
		return 0, i
	}
	at += n
	if b[at] != point {
		v = float64(whole)
	} else {
		if at+9 > len(b) {
			return 0, i
		}
		part, n := digits8(binary.LittleEndian.Uint64(b[at+1:]))
		if n == 0 || n == 8 {
			return 0, i
		}
		at += 1 + n
		v = float64(whole*tens[n&7]+part) / pow10[n]
	}
	if negative {
		v = -v
	}
	return v, at
}

// digits8 counts the ASCII digits that eight bytes begin with and gives their value; the value of eight is left to the caller.
func digits8(w uint64) (value uint64, n int) {
	d := w ^ 0x3030303030303030
	other := (d + 0x7676767676767676 | d) & 0x8080808080808080 // A carry reaches only bytes behind one that is no digit.
	n = bits.TrailingZeros64(other) >> 3
	d <<= (64 - 8*uint(n)) & 63
	d = d*10 + d>>8
	return ((d&0x000000FF000000FF)*0x000F424000000064 + (d>>16&0x000000FF000000FF)*0x0000271000000001) >> 32, n
}
