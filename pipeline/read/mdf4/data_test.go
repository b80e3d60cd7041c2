package mdf4_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"dynolake/schema"
)

// plainRows are records of a time, a double and a byte, and what must be read from them.
func plainRows(n int) (recs []byte, t, x, y []float64) {
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range n {
		a, b := rng.NormFloat64(), byte(rng.Uint32())
		recs = append(append(recs, f64(float64(i)/100, a)...), b)
		t, x, y = append(t, float64(i)/100), append(x, a), append(y, float64(b))
	}
	return recs, t, x, y
}

func plainGroup(rows int) *node {
	return cg("g", 1, rows, 17, 0, clock(), cn("x", "", shape{typ: 4, offset: 8, bits: 64}, nil, nil), cn("y", "", shape{offset: 16, bits: 8}, nil, nil))
}

func equal(t *testing.T, what string, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d values, want %d", what, len(got), len(want))
	}
	for i := range got {
		if got[i] != want[i] && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
			t.Fatalf("%s %d: %v, want %v", what, i, got[i], want[i])
		}
	}
}

// The same records in every way to store them, in pieces of any size, give the same rows and nothing to say.
func TestEveryWayToStoreRecords(t *testing.T) {
	const rows = 1000
	recs, at, x, y := plainRows(rows)
	for name, data := range map[string]*node{
		"plain": block("DT", recs), "packed": pack(t, "DT", 0, recs), "transposed": pack(t, "DT", 17, recs), "transposed with odd bytes": pack(t, "DT", 23, recs),
		"split": split(t, recs, -1, 17*100), "split in mid-record": split(t, recs, -1, 1001), "split and packed": split(t, recs, 0, 4321),
		"split and transposed": split(t, recs, 17, 17*64), "of an equal length": equalList(recs, 1700), "lists in a row": head(0, lists(t, recs)),
	} {
		t.Run(name, func(t *testing.T) {
			l, codes := parse(t, image(410, 0, hd(dg(0, data, plainGroup(rows)))))
			equal(t, "t", l.Series[0].T, at)
			equal(t, "x", l.Series[0].Values[0], x)
			equal(t, "y", l.Series[0].Values[1], y)
			if name == "transposed with odd bytes" && codes["packing_unusual"] == 1 {
				delete(codes, "packing_unusual") // By 23 columns, where a record has 17 bytes.
			}
			if len(codes) > 0 {
				t.Errorf("%v", l.Findings)
			}
		})
	}
}

// pieces cuts records into blocks: plain ones below 0 columns, else packed ones.
func pieces(t testing.TB, b []byte, columns, size int) (blocks []*node, sizes []int) {
	for len(b) > 0 {
		n := min(size, len(b))
		k := block("DT", b[:n])
		if columns >= 0 {
			k = pack(t, "DT", columns, b[:n])
		}
		blocks, sizes, b = append(blocks, k), append(sizes, n), b[n:]
	}
	return blocks, sizes
}

func split(t testing.TB, b []byte, columns, size int) *node {
	blocks, sizes := pieces(t, b, columns, size)
	return head(columns, list(sizes, blocks...))
}

// head is what stands before a list.
func head(columns int, list *node) *node {
	zip := 0
	if columns > 0 {
		zip = 1
	}
	return block("HL", bits(uint16(0), zip, make([]byte, 5)), list)
}

func equalList(b []byte, size int) *node {
	blocks, _ := pieces(nil, b, -1, size)
	return block("DL", bits(1, 0, 0, 0, uint32(len(blocks)), uint64(size)), append([]*node{nil}, blocks...)...)
}

// lists is a list that follows another.
func lists(t *testing.T, b []byte) *node {
	blocks, sizes := pieces(t, b, 0, 5000)
	second := list(nil, blocks[2:]...)
	second.data = bits(0, 0, 0, 0, uint32(len(blocks)-2))
	at := sizes[0] + sizes[1]
	for _, n := range sizes[2:] {
		second.data, at = append(second.data, bits(uint64(at))...), at+n
	}
	first := list(sizes[:2], blocks[:2]...)
	first.links[0] = second
	return first
}

// unsortedFile has two groups and texts between their records, in turn.
func unsortedFile(idSize, rows int, marks uint16, wrap func([]byte) *node) []byte {
	id := func(v uint64) []byte { return le.AppendUint64(nil, v)[:idSize] }
	var b []byte
	at := 0
	for i := range rows {
		text := strings.Repeat("é", i%5) + fmt.Sprint(i)
		b = append(append(append(b, id(3)...), le.AppendUint32(nil, uint32(len(text)))...), text...)
		off := uint64(at)
		if marks&64 != 0 {
			off = 0
		}
		b = append(append(append(b, id(200)...), f64(float64(i))...), le.AppendUint64(nil, off)...)
		at += 4 + len(text)
		if i%3 == 0 {
			b = append(append(append(b, id(7)...), f64(float64(i)+0.5)...), byte(i))
		}
	}
	words := block("CG", bits(uint64(3), uint64(rows), uint16(1), uint16(0), uint32(0), uint32(at), uint32(0)), nil, nil, nil, nil, nil, nil)
	a := cg("a", 200, rows, 16, 0, clock(), cn("note", "", shape{kind: 1, typ: 7, offset: 8, bits: 64}, nil, words))
	c := cg("b", 7, (rows+2)/3, 9, 0, clock(), cn("n", "", shape{offset: 8, bits: 8}, nil, nil))
	return image(410, marks, hd(dg(idSize, wrap(b), a, words, c)))
}

func TestUnsorted(t *testing.T) {
	const rows = 500
	for _, idSize := range []int{1, 2, 4, 8} {
		for name, wrap := range map[string]func([]byte) *node{
			"plain": func(b []byte) *node { return block("DT", b) }, "split": func(b []byte) *node { return split(t, b, -1, 777) },
			"packed": func(b []byte) *node { return split(t, b, 0, 1234) }, "transposed": func(b []byte) *node { return split(t, b, 9, 2000) },
		} {
			l, codes := parse(t, unsortedFile(idSize, rows, 0, wrap))
			checkUnsorted(t, name, l, rows)
			if len(codes) > 0 {
				t.Errorf("%v", l.Findings)
			}
		}
	}
	l, _ := parse(t, unsortedFile(1, rows, 64, func(b []byte) *node { return block("DT", b) }))
	checkUnsorted(t, "offsets that are not up to date", l, rows)
}

func checkUnsorted(t *testing.T, name string, l schema.Log, rows int) {
	t.Helper()
	a, b := l.Series[0], l.Series[1]
	if len(a.T) != rows || len(a.Texts) != rows || len(b.T) != (rows+2)/3 {
		t.Fatalf("%s: %d rows with %d texts, %d rows", name, len(a.T), len(a.Texts), len(b.T))
	}
	for i, x := range a.Texts {
		if want := strings.Repeat("é", i%5) + fmt.Sprint(i); x.Row != i || x.Text != want {
			t.Fatalf("%s: text %d is %+v, want %q", name, i, x, want)
		}
	}
	for i, v := range b.Values[0] {
		if v != float64(byte(3*i)) || b.T[i] != float64(3*i)+0.5 {
			t.Fatalf("%s: row %d is %v at %v", name, i, v, b.T[i])
		}
	}
}

// columnFile is of version 4.20: each channel a group of its own in columns, with validity bytes apart, borrowing the first's clock.
func columnFile(t testing.TB, packed int, equal bool) []byte {
	const rows, per = 1000, 300
	recs, _, _, _ := plainRows(rows)
	var ts, xs, ys, bad []byte
	for i := range rows {
		r := recs[17*i : 17*i+17]
		ts, xs, ys, bad = append(ts, r[:8]...), append(xs, r[8:16]...), append(ys, r[16]), append(bad, byte(i&1))
	}
	ld := func(b []byte, width int, bad []byte) *node {
		var values, valid []*node
		for from := 0; from < rows; from += per {
			to := min(rows, from+per)
			v := block("DV", b[from*width:to*width])
			if packed >= 0 {
				v = pack(t, "DV", min(packed, width), v.data)
			}
			values = append(values, v)
			switch {
			case bad == nil:
			case from == per:
				valid = append(valid, nil) // Nothing is invalid there.
			case packed >= 0:
				valid = append(valid, pack(t, "DI", 0, bad[from:to]))
			default:
				valid = append(valid, block("DI", bad[from:to]))
			}
		}
		flags := uint32(0)
		if bad != nil {
			flags |= 1 << 31
		}
		var said []byte
		for i := range values {
			said = append(said, bits(uint64(i*per))...)
		}
		if equal {
			flags, said = flags|1, bits(uint64(per))
		}
		return block("LD", bits(flags, uint32(len(values)), said), append(append([]*node{nil}, values...), valid...)...)
	}
	first := cg("engine", 0, rows, 8, 0, clock())
	member := func(width, valid int, c *node) *node {
		g := cg("", 0, rows, width, valid, c)
		g.data[16], g.links = 8, append(g.links, first)
		return g
	}
	groups := []*node{dg(0, ld(ts, 8, nil), first), dg(0, ld(xs, 8, nil), member(8, 0, cn("x", "", shape{typ: 4, bits: 64}, nil, nil))),
		dg(0, ld(ys, 1, bad), member(1, 1, cn("y", "", shape{bits: 8, flags: 2}, nil, nil)))}
	return image(420, 0, hd(chained(groups)))
}

func TestColumns(t *testing.T) {
	_, at, x, y := plainRows(1000)
	for i := range y {
		if i&1 == 1 && (i < 300 || i >= 600) {
			y[i] = math.NaN()
		}
	}
	for _, packed := range []int{-1, 0, 8} {
		for _, same := range []bool{false, true} {
			l, codes := parse(t, columnFile(t, packed, same))
			if len(l.Series) != 1 || len(codes) > 0 {
				t.Fatalf("%d groups, %v", len(l.Series), l.Findings)
			}
			equal(t, "t", l.Series[0].T, at)
			equal(t, "x", l.Series[0].Values[0], x)
			equal(t, "y", l.Series[0].Values[1], y)
		}
	}
	one := cg("g", 0, 3, 1, 0, cn("t", "s", shape{kind: 3, sync: 1}, cc(1, nil, 0, 0.5), nil), cn("x", "", shape{bits: 8}, nil, nil))
	l, _ := parse(t, image(420, 0, hd(dg(0, block("DV", []byte{1, 2, 3}), one))))
	if s := l.Series[0]; fmt.Sprint(s.T, s.Values) != "[0 0.5 1] [[1 2 3]]" {
		t.Errorf("%+v", s)
	}
}

// Members of a structure are channels; the structure and an array are not.
func TestComposition(t *testing.T) {
	b := append(f64(0), 1, 2, 3, 4)
	whole := cn("s", "", shape{typ: 10, offset: 8, bits: 32}, nil, nil)
	inner := cn("b", "", shape{typ: 10, offset: 9, bits: 24}, nil, nil)
	inner.links[1] = cn("s.b.c", "", shape{offset: 10, bits: 8}, nil, nil)
	whole.links[1] = chained([]*node{cn("a", "", shape{offset: 8, bits: 8}, nil, nil), inner})
	array := cn("r", "", shape{offset: 8, bits: 8}, nil, nil)
	array.links[1] = block("CA", bits(0, 0, uint16(2), uint32(0), int32(1), uint32(0), uint64(2), uint64(2)), nil)
	l, _ := parse(t, image(410, 0, hd(dg(0, block("DT", b), cg("g", 1, 1, 12, 0, clock(), whole, array)))))
	s := l.Series[0]
	if len(s.Channels) != 2 || s.Channels[0].Name != "s.a" || s.Channels[1].Name != "s.b.c" || fmt.Sprint(s.Values) != "[[1] [3]]" {
		t.Errorf("%+v", s)
	}
	said := ""
	for _, f := range l.Findings {
		said += f.Text
	}
	if !strings.Contains(said, `"r" of group "g" is an array of 2 × 2`) || len(l.Findings) != 3 {
		t.Errorf("%v", l.Findings)
	}
}

// What is larger than is held in memory goes through a temporary file.
func TestLargeBlocks(t *testing.T) {
	const rows = 2 << 20
	var b []byte
	for i := range rows {
		b = append(le.AppendUint64(b, math.Float64bits(float64(i))), byte(i), byte(i>>8), byte(i>>16), 1, 2)
	}
	for _, columns := range []int{0, 13} {
		g := cg("g", 1, rows, 13, 0, clock(), cn("x", "", shape{offset: 8, bits: 24}, nil, nil))
		l, codes := parse(t, image(410, 0, hd(dg(0, pack(t, "DT", columns, b), g))))
		s := l.Series[0]
		for i, v := range s.Values[0] {
			if v != float64(i) || s.T[i] != v {
				t.Fatalf("%d columns: row %d is %v at %v", columns, i, v, s.T[i])
			}
		}
		if len(s.T) != rows || len(codes) > 0 {
			t.Errorf("%d rows, %v", len(s.T), codes)
		}
	}
}
