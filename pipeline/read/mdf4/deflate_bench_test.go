package mdf4_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/klauspost/compress/zlib"

	"dynolake/pipeline/read/mdf4"
	"dynolake/pipeline/read/readtest"
)

// signals are records of a time and 31 signals of 16 and 32 bits that drift and carry noise in their last digits, 100 bytes each.
func signals(rows int) []byte {
	rng := rand.New(rand.NewPCG(5, 6))
	b := make([]byte, 0, 100*rows)
	for r := range rows {
		b = append(b, f64(float64(r)/100)...)
		for i := range 31 {
			x := 20_000 + 9000*math.Sin(float64(r)/400+float64(i)) + 3*rng.NormFloat64()
			if i < 15 {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(math.Round(x)/8)))
			} else {
				b = binary.LittleEndian.AppendUint16(b, uint16(x))
			}
		}
	}
	return b
}

// Packed data beside the deflate library alone on the same blocks: as they are, and with their bytes transposed, as recorders write them.
func BenchmarkDeflate(b *testing.B) {
	const rows, perBlock = 400_000, 40_000
	records := signals(rows)
	for name, columns := range map[string]int{"plain": 0, "transposed": 100} {
		var blocks []*node
		var sizes []int
		var packed [][]byte
		for at := 0; at < len(records); at += 100 * perBlock {
			part := records[at : at+100*perBlock]
			block := pack(b, "DT", columns, part)
			blocks, sizes = append(blocks, block), append(sizes, len(part))
			packed = append(packed, block.data[24:])
		}
		g := cg("g", 1, rows, 100, 0, clock())
		last := g.links[1]
		for i := range 31 {
			s := shape{typ: 4, bits: 32, offset: 8 + 4*i}
			if i >= 15 {
				s = shape{bits: 16, offset: 8 + 60 + 2*(i-15)}
			}
			c := cn("x", "V", s, cc(1, nil, -40, 0.25), nil)
			last.links[0], last = c, c
		}
		path := filepath.Join(b.TempDir(), "packed.mf4")
		if err := os.WriteFile(path, image(410, 0, hd(dg(0, list(sizes, blocks...), g))), 0o600); err != nil {
			b.Fatal(err)
		}
		src := file(path)
		ours := func() error {
			d := &drain{}
			err := (mdf4.Reader{}).Read(b.Context(), src, d)
			if err == nil && d.rows != rows {
				err = fmt.Errorf("%d rows, want %d", d.rows, rows)
			}
			return err
		}
		room := make([]byte, 100*perBlock)
		b.Run(name, func(b *testing.B) {
			b.SetBytes(2 * int64(len(records)))
			readtest.Beside(b, ours, func() error { return inflate(packed, room) })
		})
	}
}

// inflate unpacks blocks and does nothing with them.
func inflate(packed [][]byte, room []byte) error {
	for _, z := range packed {
		r, err := zlib.NewReader(bytes.NewReader(z))
		if err != nil {
			return err
		}
		if _, err := io.ReadFull(r, room); err != nil {
			return err
		}
	}
	return nil
}
