package mdf4_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"testing"

	"github.com/klauspost/compress/zlib"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/mdf4"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

var le = binary.LittleEndian

// node is one block of a file that a test makes by hand.
type node struct {
	id    string
	links []*node
	data  []byte
	at    int64
}

func block(id string, data []byte, links ...*node) *node {
	return &node{id: id, data: data, links: links}
}

// image lays a file out: the identification, the header at 64 and every block that it leads to.
func image(version uint16, marks uint16, hd *node) []byte {
	head := make([]byte, 64)
	copy(head, "MDF     4.10    byhand  ")
	if marks != 0 {
		copy(head, "UnFinMF ")
		le.PutUint16(head[60:], marks)
	}
	head[10], head[11] = '0'+byte(version/10%10), '0'+byte(version%10)
	copy(head[8:], "4.")
	le.PutUint16(head[28:], version)
	var all []*node
	seen := map[*node]bool{}
	var visit func(n *node)
	visit = func(n *node) {
		if n == nil || seen[n] {
			return
		}
		seen[n] = true
		all = append(all, n)
		for _, l := range n.links {
			visit(l)
		}
	}
	visit(hd)
	at := int64(64)
	for _, n := range all {
		n.at = at
		at = (at + int64(24+8*len(n.links)+len(n.data)) + 7) &^ 7
	}
	out := bytes.NewBuffer(head)
	for _, n := range all {
		for int64(out.Len()) < n.at {
			out.WriteByte(0)
		}
		h := make([]byte, 24)
		copy(h, "##"+n.id)
		le.PutUint64(h[8:], uint64(24+8*len(n.links)+len(n.data)))
		le.PutUint64(h[16:], uint64(len(n.links)))
		out.Write(h)
		for _, l := range n.links {
			at := int64(0)
			if l != nil {
				at = l.at
			}
			out.Write(le.AppendUint64(nil, uint64(at)))
		}
		out.Write(n.data)
	}
	return out.Bytes()
}

func tx(s string) *node { return block("TX", append([]byte(s), 0)) }
func md(s string) *node { return block("MD", append([]byte(s), 0)) }

// bits writes values behind each other, little-endian.
func bits(v ...any) []byte {
	var b []byte
	for _, x := range v {
		switch x := x.(type) {
		case int:
			b = append(b, byte(x))
		case string:
			b = append(b, x...)
		case []byte:
			b = append(b, x...)
		default:
			b, _ = binary.Append(b, le, x)
		}
	}
	return b
}

func hd(first *node) *node {
	return block("HD", bits(uint64(1773480413000000000), int16(0), int16(0), 0, 0, 0, 0, float64(0), float64(0)), first, nil, nil, nil, nil, nil)
}

func dg(idSize int, data *node, groups ...*node) *node {
	return block("DG", bits(idSize, make([]byte, 7)), nil, chained(groups), data, nil)
}

// chained sets each block's first link to the next.
func chained(list []*node) *node {
	for i := range list {
		if i+1 < len(list) {
			list[i].links[0] = list[i+1]
		}
	}
	if len(list) == 0 {
		return nil
	}
	return list[0]
}

func cg(name string, id uint64, cycles int, dataBytes, validBytes int, channels ...*node) *node {
	return block("CG", bits(id, uint64(cycles), uint16(0), uint16(0), uint32(0), uint32(dataBytes), uint32(validBytes)), nil, chained(channels), tx(name), nil, nil, nil)
}

// shape is where and how a channel is stored.
type shape struct {
	kind, sync, typ, shift int
	offset, bits           int
	flags                  uint32
	validBit               int
}

func cn(name, unit string, s shape, cc, data *node) *node {
	return block("CN", bits(s.kind, s.sync, s.typ, s.shift, uint32(s.offset), uint32(s.bits), s.flags, uint32(s.validBit), 0, 0, uint16(0), make([]byte, 48)), nil, nil, tx(name), nil, cc, data, tx(unit), nil)
}

func clock() *node { return cn("t", "s", shape{kind: 2, sync: 1, typ: 4, bits: 64}, nil, nil) }

func cc(kind int, refs []*node, vals ...float64) *node {
	b := bits(kind, 0, uint16(0), uint16(len(refs)), uint16(len(vals)), float64(0), float64(0))
	for _, v := range vals {
		b = append(b, bits(v)...)
	}
	return block("CC", b, append([]*node{nil, nil, nil, nil}, refs...)...)
}

// pack makes a DZ block of what a block would hold; columns above 0 transpose it.
func pack(t testing.TB, id string, columns int, b []byte) *node {
	t.Helper()
	stored := bytes.Clone(b)
	if columns > 0 {
		rows := len(b) / columns
		for r := range rows {
			for c := range columns {
				stored[c*rows+r] = b[r*columns+c]
			}
		}
	}
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	if _, err := w.Write(stored); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	zip := 0
	if columns > 0 {
		zip = 1
	}
	return block("DZ", bits(id, zip, 0, uint32(columns), uint64(len(b)), uint64(z.Len()), z.Bytes()))
}

// list makes a DL block over blocks that hold so many bytes each.
func list(sizes []int, blocks ...*node) *node {
	b := bits(0, 0, 0, 0, uint32(len(blocks)))
	at := uint64(0)
	for _, n := range sizes {
		b = append(b, bits(at)...)
		at += uint64(n)
	}
	return block("DL", b, append([]*node{nil}, blocks...)...)
}

// f64 writes doubles behind each other.
func f64(v ...float64) []byte {
	var b []byte
	for _, x := range v {
		b = le.AppendUint64(b, math.Float64bits(x))
	}
	return b
}

// parse reads a file that must be one log, and lists the codes of its findings.
func parse(t testing.TB, data []byte) (schema.Log, map[string]int) {
	t.Helper()
	if err := readtest.Check(context.Background(), mdf4.Reader{}, data); err != nil {
		t.Error(err)
	}
	logs, err := read.Collect(context.Background(), mdf4.Reader{}, readtest.Bytes("log.csv", data))
	if err != nil || len(logs) != 1 {
		t.Fatalf("%d logs, %v", len(logs), err)
	}
	codes := map[string]int{}
	for _, f := range logs[0].Findings {
		codes[f.Code]++
	}
	return logs[0], codes
}
