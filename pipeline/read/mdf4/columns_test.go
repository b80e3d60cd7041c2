package mdf4_test

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"dynolake/schema"
)

// mixedRows are records of 43 bytes: a time, numbers of many widths, bits across bytes, a text and a validity byte.
func mixedRows(rows int) []byte {
	rng := rand.New(rand.NewPCG(7, 8))
	var b []byte
	for i := range rows {
		rec := make([]byte, 43)
		for k := range rec {
			rec[k] = byte(rng.Uint32())
		}
		copy(rec, f64(float64(i)/100))
		copy(rec[30:], fmt.Sprintf("w%-4d", rng.IntN(3000)))
		b = append(b, rec...)
	}
	return b
}

func mixedGroup(rows int) *node {
	at := func(name string, s shape) *node { return cn(name, "V", s, cc(1, nil, -40, 0.25), nil) }
	return cg("g", 1, rows, 42, 1, clock(),
		at("float", shape{typ: 4, offset: 8, bits: 32}), at("float, other order", shape{typ: 5, offset: 12, bits: 32}),
		at("two bytes", shape{offset: 16, bits: 16, flags: 2}), at("signed, other order", shape{typ: 3, offset: 18, bits: 16}),
		at("eight bytes", shape{offset: 20, bits: 64, flags: 2, validBit: 7}), at("bits", shape{shift: 3, offset: 28, bits: 12, flags: 2, validBit: 1}),
		at("over nine bytes", shape{shift: 5, offset: 20, bits: 64}), at("three bytes", shape{typ: 2, offset: 36, bits: 24}),
		cn("text", "", shape{typ: 6, offset: 30, bits: 40, flags: 2, validBit: 2}, nil, nil), at("half", shape{typ: 4, offset: 40, bits: 16}),
		at("a byte", shape{offset: 39, bits: 8}), at("a byte behind a text", shape{typ: 2, offset: 35, bits: 8, flags: 2, validBit: 3}))
}

// Blocks whose bytes stand in columns hold what others do, whatever their sizes: rows are read from them, they end in mid-record, are
// shorter than a batch, or one of them is damaged.
func TestColumnsEqualRows(t *testing.T) {
	const rows, width = 10_000, 43
	recs := mixedRows(rows)
	for _, size := range []int{rows * width, 5000 * width, 4500*width + 17, 4096 * width, 4097 * width, 300 * width, 1001} {
		for _, bad := range []int{-1, 0, 1} {
			of := func(columns int) schema.Log {
				blocks, sizes := pieces(t, recs, columns, size)
				if bad >= 0 && len(blocks) > 1 { // Of one block, nothing would be left.
					z := blocks[bad].data
					z[len(z)-1] ^= 1
				}
				l, _ := parse(t, image(410, 0, hd(dg(0, head(columns, list(sizes, blocks...)), mixedGroup(rows)))))
				return l
			}
			sameLog(t, fmt.Sprintf("blocks of %d bytes, block %d damaged", size, bad), of(width), of(0))
		}
	}
}

// sameLog compares the rows, texts and codes of two logs.
func sameLog(t *testing.T, what string, got, want schema.Log) {
	t.Helper()
	if len(got.Series) != len(want.Series) || len(got.Findings) != len(want.Findings) {
		t.Fatalf("%s: %d groups and findings %v, want %d and %v", what, len(got.Series), got.Findings, len(want.Series), want.Findings)
	}
	for i, f := range want.Findings {
		if g := got.Findings[i]; g.Code != f.Code || g.Value != f.Value {
			t.Errorf("%s: finding %v, want %v", what, g, f)
		}
	}
	for i, s := range want.Series {
		g := got.Series[i]
		equal(t, what+": t", g.T, s.T)
		for k := range s.Values {
			equal(t, what+": "+s.Channels[k].Name, g.Values[k], s.Values[k])
		}
		for _, texts := range [][]schema.Text{g.Texts, s.Texts} {
			slices.SortFunc(texts, func(a, b schema.Text) int { return cmp.Compare(a.Row, b.Row) })
		}
		if len(s.Texts) < len(s.T)/3 || !slices.Equal(g.Texts, s.Texts) {
			t.Errorf("%s: %d texts, want the same %d", what, len(g.Texts), len(s.Texts))
		}
	}
}
