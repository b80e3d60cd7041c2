package mdf4

// untranspose puts rows in order: in holds all first bytes, then all second ones. The odd bytes at the end stay as they are.
func untranspose(out, in []byte, columns int) {
	rows := len(in) / columns
	const tile = 256
	for r0 := 0; r0 < rows; r0 += tile {
		r1 := min(r0+tile, rows)
		c := 0
		for ; c+8 <= columns; c += 8 {
			eightColumns(out, in, columns, c, r0, r1)
		}
		for ; c < columns; c++ {
			oneColumn(out, in, columns, c, r0, r1)
		}
	}
	copy(out[rows*columns:], in[rows*columns:])
}

// oneColumn lays the bytes of a column out in rows r0 to r1-1.
func oneColumn(out, in []byte, columns, c, r0, r1 int) {
	rows := len(in) / columns
	at := r0*columns + c
	for _, b := range in[c*rows+r0 : c*rows+r1] {
		out[at] = b
		at += columns
	}
}

// eightColumns does eight columns from c on, a square of eight by eight bytes at a time.
func eightColumns(out, in []byte, columns, c, r0, r1 int) {
	rows := len(in) / columns
	r := r0
	for ; r+8 <= r1; r += 8 {
		var x [8]uint64
		at := c*rows + r
		for k := range x {
			x[k] = le.Uint64(in[at:])
			at += rows
		}
		turn8(&x)
		at = r*columns + c
		for k := range x {
			le.PutUint64(out[at:], x[k])
			at += columns
		}
	}
	for k := range 8 {
		oneColumn(out, in, columns, c+k, r, r1)
	}
}

// turn8 transposes a square of bytes, each word a row: squares of one, two and four bytes change places with those across the diagonal.
func turn8(x *[8]uint64) {
	x[0], x[1] = across(x[0], x[1], 8, 0x00FF00FF00FF00FF)
	x[2], x[3] = across(x[2], x[3], 8, 0x00FF00FF00FF00FF)
	x[4], x[5] = across(x[4], x[5], 8, 0x00FF00FF00FF00FF)
	x[6], x[7] = across(x[6], x[7], 8, 0x00FF00FF00FF00FF)
	x[0], x[2] = across(x[0], x[2], 16, 0x0000FFFF0000FFFF)
	x[1], x[3] = across(x[1], x[3], 16, 0x0000FFFF0000FFFF)
	x[4], x[6] = across(x[4], x[6], 16, 0x0000FFFF0000FFFF)
	x[5], x[7] = across(x[5], x[7], 16, 0x0000FFFF0000FFFF)
	x[0], x[4] = across(x[0], x[4], 32, 0x00000000FFFFFFFF)
	x[1], x[5] = across(x[1], x[5], 32, 0x00000000FFFFFFFF)
	x[2], x[6] = across(x[2], x[6], 32, 0x00000000FFFFFFFF)
	x[3], x[7] = across(x[3], x[7], 32, 0x00000000FFFFFFFF)
}

// across exchanges what of a lies shift bits up with what of b lies under the mask.
func across(a, b uint64, shift uint, mask uint64) (uint64, uint64) {
	t := (a>>(shift&63) ^ b) & mask
	return a ^ t<<(shift&63), b ^ t
}
