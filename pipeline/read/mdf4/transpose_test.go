package mdf4

import (
	"bytes"
	"math/rand/v2"
	"testing"
)

// Bytes laid down column by column come back row by row, whatever the width and the count of rows, and those behind the last row stay.
func TestUntranspose(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, columns := range []int{1, 2, 7, 8, 9, 16, 17, 100, 203} {
		for _, rows := range []int{1, 7, 8, 9, 255, 256, 257, 600} {
			want := make([]byte, rows*columns+rng.IntN(columns)) // Fewer bytes behind the last row than a row has.
			for i := range want {
				want[i] = byte(rng.Uint32())
			}
			in := bytes.Clone(want)
			for r := range rows {
				for c := range columns {
					in[c*rows+r] = want[r*columns+c]
				}
			}
			out := make([]byte, len(in))
			if untranspose(out, in, columns); !bytes.Equal(out, want) {
				t.Errorf("%d columns, %d rows: the bytes differ", columns, rows)
			}
		}
	}
}

// A few columns of a few rows are laid out alike, wherever they stand, and nothing beside them is touched.
func TestLay(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		column, width, first := 1+rng.IntN(700), 1+rng.IntN(20), rng.IntN(5)
		rows := rng.IntN(column + 1)
		in := make([]byte, (first+width)*column)
		for i := range in {
			in[i] = byte(rng.Uint32())
		}
		from := rng.IntN(column - rows + 1)
		out := make([]byte, rows*width+1)
		out[rows*width] = 77
		lay(out[:rows*width], in[first*column+from:], column, width, rows)
		for r := range rows {
			for c := range width {
				if got, want := out[r*width+c], in[(first+c)*column+from+r]; got != want {
					t.Fatalf("row %d of %d, byte %d of %d: %d, want %d", r, rows, c, width, got, want)
				}
			}
		}
		if out[rows*width] != 77 {
			t.Fatalf("%d rows of %d: written beyond", rows, width)
		}
	}
}
