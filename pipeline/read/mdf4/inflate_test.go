package mdf4

import (
	"bytes"
	"hash/adler32"
	"io"
	"math/rand/v2"
	"testing"

	"github.com/klauspost/compress/flate"
	"github.com/klauspost/compress/zlib"
)

// stuff invents bytes of so many kinds: noise, runs, texts, records, and all of them in turn.
func stuff(rng *rand.Rand, n int) []byte {
	b := make([]byte, 0, n+300)
	kind := rng.IntN(6)
	for len(b) < n {
		k := kind
		if k == 5 {
			k = rng.IntN(5)
		}
		switch k {
		case 0:
			b = append(b, byte(rng.Uint32()))
		case 1:
			b = append(b, bytes.Repeat([]byte{byte(rng.IntN(3))}, 1+rng.IntN(290))...)
		case 2:
			b = append(b, byte('a'+min(rng.IntN(26), rng.IntN(26), rng.IntN(26))))
		case 3:
			b = append(b, byte(len(b)), byte(len(b)>>8), 7, byte(rng.IntN(4)), 0)
		case 4:
			back := 1 + rng.IntN(min(len(b)+1, 32768))
			if back > len(b) {
				b = append(b, 1)
				continue
			}
			for range 1 + rng.IntN(20) {
				b = append(b, b[len(b)-back])
			}
		}
	}
	return b[:n]
}

// squeezed packs bytes in one of the ways that there are.
func squeezed(t *testing.T, rng *rand.Rand, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	level := []int{0, 1, 2, 3, 5, 6, 9, flate.HuffmanOnly}[rng.IntN(8)]
	w, err := zlib.NewWriterLevel(&out, level)
	if err != nil {
		t.Fatal(err)
	}
	for len(b) > 0 { // Blocks of several kinds follow each other.
		n := min(len(b), 1+rng.IntN(60_000))
		if _, err := w.Write(b[:n]); err != nil {
			t.Fatal(err)
		}
		if b = b[n:]; rng.IntN(3) == 0 {
			if err := w.Flush(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// library unpacks with the library what holds exactly n bytes.
func library(z []byte, n int) ([]byte, bool) {
	r, err := zlib.NewReader(bytes.NewReader(z))
	if err != nil {
		return nil, false
	}
	b, err := io.ReadAll(io.LimitReader(r, int64(n)+1))
	return b, err == nil && len(b) == n
}

// What the library takes is unpacked to the same bytes, and what it refuses is refused: whole, cut, and with bits turned over.
func TestInflateEqualsLibrary(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	z := newInflater()
	taken, refused := 0, 0
	check := func(what string, packed []byte, n int) {
		t.Helper()
		want, ok := library(packed, n)
		got := make([]byte, n)
		if mine := z.unpack(got, packed); mine != ok {
			t.Fatalf("%s of %d bytes for %d: %v, the library says %v", what, len(packed), n, mine, ok)
		}
		if ok && !bytes.Equal(got, want) {
			t.Fatalf("%s of %d bytes for %d: other bytes than the library's", what, len(packed), n)
		}
		if ok {
			taken++
		} else {
			refused++
		}
	}
	for range 400 {
		b := stuff(rng, rng.IntN([]int{4, 300, 3000, 200_000}[rng.IntN(4)]))
		packed := squeezed(t, rng, b)
		check("whole", packed, len(b))
		check("one less", packed, max(0, len(b)-1))
		check("one more", packed, len(b)+1)
		check("with bytes behind it", append(bytes.Clone(packed), 1, 2, 3), len(b))
		check("cut", packed[:rng.IntN(len(packed))], len(b))
		for range 12 {
			bad := bytes.Clone(packed)
			at := rng.IntN(8 * min(len(bad), []int{12, 100, len(bad)}[rng.IntN(3)]))
			bad[at/8] ^= 1 << (at % 8)
			check("with a bit turned over", bad, len(b))
		}
	}
	for range 20_000 { // Any bytes behind a head that is sound: most are refused at once.
		packed := append([]byte("x\x9c"), stuff(rng, rng.IntN(60))...)
		if len(packed) > 2 {
			packed[2] = packed[2]&^7 | []byte{3, 5}[rng.IntN(2)] // A last block of fixed codes, or of its own.
		}
		check("any bytes", packed, rng.IntN(40))
	}
	if taken < 500 || refused < 3000 {
		t.Errorf("%d taken and %d refused: too few of either", taken, refused)
	}
}

func TestAdlerEqualsLibrary(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for n := range 1200 {
		b := bytes.Repeat([]byte{255}, n)
		if n%2 == 1 {
			b = stuff(rng, n)
		}
		if got, want := adler(b), adler32.Checksum(b); got != want {
			t.Fatalf("%d bytes: %08x, want %08x", n, got, want)
		}
	}
	if b := bytes.Repeat([]byte{255}, 3<<20); adler(b) != adler32.Checksum(b) {
		t.Error("3 MiB of ones: another sum")
	}
}
