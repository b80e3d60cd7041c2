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
