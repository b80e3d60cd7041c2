package delimited

import (
	"math/rand/v2"
	"testing"
)

// The quick look at a cell says what the thorough one does, for every cell that it says anything of.
func TestSimpleIsTheThoroughShape(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 9))
	const signs = "0123456789012345.,,-+eE '\u2212"
	told := 0
	for range 200_000 {
		cell := make([]byte, 1+rng.IntN(9))
		for i := range cell {
			cell[i] = signs[rng.IntN(len(signs))]
		}
		got, ok := simple(cell)
		if !ok {
			continue
		}
		told++
		if want, sound := thorough(cell); !sound || got != want {
			t.Fatalf("%q: simple gives %+v, the thorough look %+v, %t", cell, got, want, sound)
		}
		if k := kindOf(cell); k != number || voidOf(cell) != word {
			t.Fatalf("%q: kind %d, void %d: want a number", cell, k, voidOf(cell))
		}
	}
	if told < 10_000 {
		t.Fatalf("%d cells were simple: too few to tell", told)
	}
}
