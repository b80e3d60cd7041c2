package delimited

import (
	"encoding/binary"
	"math/bits"
)

const quickRoom = 18 // Bytes that quick is given at the least.

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
	d := binary.LittleEndian.Uint64(b[at:]) ^ zeros
	other := (d + above9 | d) & tops // A carry reaches only bytes behind one that is no digit, and none comes of a decimal sign.
	n := bits.TrailingZeros64(other) >> 3
	switch {
	case n == 0 || n == 8:
		return 0, i
	case b[at+n] != point:
		v, at = float64(eight(d<<((64-8*uint(n))&63))), at+n
	default:
		all := bits.TrailingZeros64(other&(other-1)) >> 3 // Where the decimals end.
		if all == n+1 || all == 8 && b[at+8]-'0' <= 9 {
			if v, at = split8(b, at, n); at < 0 {
				return 0, i
			}
			break
		}
		whole := uint64(1)<<(8*uint(n)) - 1
		d = d&whole | d>>8&^whole // The decimal sign falls out.
		v, at = float64(eight(d<<((72-8*uint(all))&63)))/pow10[all-n-1], at+all
	}
	if negative {
		v = -v
	}
	return v, at
}

const (
	ones   = 0x0101010101010101
	zeros  = 0x3030303030303030 // Eight times the digit 0.
	above9 = 0x7676767676767676 // Added, it sets the top bit of what is above 9.
	tops   = 0x8080808080808080
)

// split8 is quick for a number whose n whole digits and decimals do not fit into eight bytes together; at is where it starts. It
// returns -1 where there are no decimals or more than seven.
func split8(b []byte, at, n int) (v float64, end int) {
	if at+n+9 > len(b) {
		return 0, -1
	}
	whole := eight((binary.LittleEndian.Uint64(b[at:]) ^ zeros) << ((64 - 8*uint(n)) & 63))
	d := binary.LittleEndian.Uint64(b[at+n+1:]) ^ zeros
	k := bits.TrailingZeros64((d+above9|d)&tops) >> 3
	if k == 0 || k == 8 {
		return 0, -1
	}
	return float64(whole*tens[k&7]+eight(d<<((64-8*uint(k))&63))) / pow10[k], at + n + 1 + k
}

// eight is the number that eight digits make, the first in the lowest byte, each as its value.
func eight(d uint64) uint64 {
	d = d*10 + d>>8
	return ((d&0x000000FF000000FF)*0x000F424000000064 + (d>>16&0x000000FF000000FF)*0x0000271000000001) >> 32
}
