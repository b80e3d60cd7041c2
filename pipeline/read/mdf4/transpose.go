package mdf4

// unpacked is a part's bytes in memory.
type unpacked struct {
	bytes   []byte
	columns int // Above 0: they stand column by column still, so many. The odd bytes at the end do not.
}

// untranspose puts rows in order: in holds all first bytes, then all second ones. The odd bytes at the end stay as they are.
func untranspose(out, in []byte, columns int) {
	rows := len(in) / columns
	lay(out, in, rows, columns, rows)
	copy(out[rows*columns:], in[rows*columns:])
}

const (
	every2 = 0x00FF00FF00FF00FF // Of two bytes the lower one,
	every4 = 0x0000FFFF0000FFFF // of four the lower two,
	every8 = 0x00000000FFFFFFFF // of eight the lower four.
)

// lay puts rows of width bytes one behind the other. In holds them as columns that begin so many bytes apart.
func lay(out, in []byte, column, width, rows int) {
	const tile = 256
	for r := 0; r < rows; r += tile {
		n := min(tile, rows-r)
		for c := 0; c < width; {
			k, turn := 1, oneColumn
			switch left := width - c; {
			case left >= 8:
				k, turn = 8, eightColumns
			case left >= 4:
				k, turn = 4, fourColumns
			case left >= 2:
				k, turn = 2, twoColumns
			}
			even := n &^ 7
			turn(out[r*width+c:], in[c*column+r:], column, width, even)
			for end := c + k; c < end; c++ {
				if even < n {
					oneColumn(out[(r+even)*width+c:], in[c*column+r+even:], column, width, n-even)
				}
			}
		}
	}
}

// oneColumn lays the bytes of a column out in n rows.
func oneColumn(out, in []byte, _, width, n int) {
	at := 0
	for _, b := range in[:n] {
		out[at] = b
		at += width
	}
}

// twoColumns does two columns, eight rows of them at a time, as do those of more.
func twoColumns(out, in []byte, column, width, n int) {
	at := 0
	for r := 0; r < n; r += 8 {
		a, b := across(le.Uint64(in[r:]), le.Uint64(in[column+r:]), 8, every2)
		for shift := 0; shift < 64; shift += 16 {
			le.PutUint16(out[at:], uint16(a>>shift))
			le.PutUint16(out[at+width:], uint16(b>>shift))
			at += 2 * width
		}
	}
}

func fourColumns(out, in []byte, column, width, n int) {
	at := 0
	for r := 0; r < n; r += 8 {
		a, b := across(le.Uint64(in[r:]), le.Uint64(in[column+r:]), 8, every2)
		c, d := across(le.Uint64(in[2*column+r:]), le.Uint64(in[3*column+r:]), 8, every2)
		a, c = across(a, c, 16, every4)
		b, d = across(b, d, 16, every4)
		for shift := 0; shift < 64; shift += 32 {
			le.PutUint32(out[at:], uint32(a>>shift))
			le.PutUint32(out[at+width:], uint32(b>>shift))
			le.PutUint32(out[at+2*width:], uint32(c>>shift))
			le.PutUint32(out[at+3*width:], uint32(d>>shift))
			at += 4 * width
		}
	}
}

func eightColumns(out, in []byte, column, width, n int) {
	for r := 0; r < n; r += 8 {
		var x [8]uint64
		at := r
		for k := range x {
			x[k] = le.Uint64(in[at:])
			at += column
		}
		turn8(&x)
		at = r * width
		for k := range x {
			le.PutUint64(out[at:], x[k])
			at += width
		}
	}
}

// turn8 transposes a square of bytes, each word a row: squares of one, two and four bytes change places with those across the diagonal.
func turn8(x *[8]uint64) {
	x[0], x[1] = across(x[0], x[1], 8, every2)
	x[2], x[3] = across(x[2], x[3], 8, every2)
	x[4], x[5] = across(x[4], x[5], 8, every2)
	x[6], x[7] = across(x[6], x[7], 8, every2)
	x[0], x[2] = across(x[0], x[2], 16, every4)
	x[1], x[3] = across(x[1], x[3], 16, every4)
	x[4], x[6] = across(x[4], x[6], 16, every4)
	x[5], x[7] = across(x[5], x[7], 16, every4)
	x[0], x[4] = across(x[0], x[4], 32, every8)
	x[1], x[5] = across(x[1], x[5], 32, every8)
	x[2], x[6] = across(x[2], x[6], 32, every8)
	x[3], x[7] = across(x[3], x[7], 32, every8)
}

// across exchanges what of a lies shift bits up with what of b lies under the mask.
func across(a, b uint64, shift uint, mask uint64) (uint64, uint64) {
	t := (a>>(shift&63) ^ b) & mask
	return a ^ t<<(shift&63), b ^ t
}
