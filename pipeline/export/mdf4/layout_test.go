package mdf4_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"strings"
	"testing"

	export "dynolake/pipeline/export/mdf4"
)

// image walks a written file by the published layout alone, without the reader: ASAM MDF 4.1, the blocks' tables. What each link of
// a block must lead to stands in kinds; "?" is a text.
type image struct {
	t    *testing.T
	data []byte
	seen map[uint64]string
}

var kinds = map[string][]string{
	"HD": {"DG", "FH", "CH", "AT", "EV", "?"}, "FH": {"FH", "MD"}, "DG": {"DG", "CG", "DATA", "?"}, "CG": {"CG", "CN", "TX", "SI", "SR", "?"},
	"CN": {"CN", "CA", "TX", "SI", "CC", "DATA", "?", "?"}, "HL": {"DL"}, "DL": {"DL"}, "CC": {"TX", "?", "?", "CC"},
}

var dataSize = map[string]int{"HD": 32, "FH": 16, "DG": 8, "CG": 32, "CN": 72, "HL": 8, "DZ": 25, "DL": 16, "CC": 24, "TX": 1, "MD": 1, "DT": 1, "SD": 1}

func (m *image) u(at uint64, n int) uint64 {
	var v uint64
	for i := range n {
		v |= uint64(m.data[at+uint64(i)]) << (8 * i)
	}
	return v
}

func (m *image) link(at uint64, i int) uint64 { return m.u(at+24+8*uint64(i), 8) }

// body is where a block's data begins, and how long it is.
func (m *image) body(at uint64) (from, size uint64) {
	from = at + 24 + 8*m.u(at+16, 8)
	return from, at + m.u(at+8, 8) - from
}

// walk checks a block and all that it leads to.
func (m *image) walk(at uint64, want string) {
	if at == 0 || m.seen[at] != "" {
		return
	}
	if at%8 != 0 || at+24 > uint64(len(m.data)) || string(m.data[at:at+2]) != "##" || m.u(at+4, 4) != 0 {
		m.t.Fatalf("no block at %d, wanted %s", at, want)
	}
	id := string(m.data[at+2 : at+4])
	m.seen[at] = id
	allowed := map[string]string{"?": "TX MD", "DATA": "DT SD DZ HL DL"}[want]
	if id != want && !strings.Contains(allowed, id) {
		m.t.Errorf("##%s at %d, wanted %s", id, at, want)
	}
	from, size := m.body(at)
	if from+size > uint64(len(m.data)) || size < uint64(dataSize[id]) || dataSize[id] == 0 {
		m.t.Fatalf("##%s at %d: data from %d, %d bytes", id, at, from, size)
	}
	if (id == "TX" || id == "MD") && bytes.IndexByte(m.data[from:from+size], 0) < 0 {
		m.t.Errorf("##%s at %d has no zero at its end", id, at)
	}
	if id == "MD" {
		m.namespace(m.data[from : from+size])
	}
	for i := range int(m.u(at+16, 8)) {
		next := "?"
		if k := kinds[id]; i < len(k) {
			next = k[i]
		} else if id == "DL" {
			next = "DATA"
		} else if id == "CC" && i == len(k)+int(m.u(from+4, 2))-1 {
			next = "CC" // The default of a table with other values.
		}
		m.walk(m.link(at, i), next)
	}
}

func (m *image) namespace(text []byte) {
	d := xml.NewDecoder(bytes.NewReader(bytes.TrimRight(text, "\x00")))
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			m.t.Fatalf("XML %q: %v", text, err)
		}
		if e, ok := t.(xml.StartElement); ok && e.Name.Space != "http://www.asam.net/mdf/v4" {
			m.t.Errorf("element %s is in the name space %q", e.Name.Local, e.Name.Space)
		}
	}
}

// bytes puts a data link's blocks together, unpacked and turned.
func (m *image) bytes(at uint64) []byte {
	from, size := m.body(at)
	switch m.seen[at] {
	case "HL":
		return m.bytes(m.link(at, 0))
	case "DL":
		var all []byte
		for i := 1; i <= int(m.u(from+4, 4)); i++ {
			if off := m.u(from+8*uint64(i), 8); off != uint64(len(all)) {
				m.t.Errorf("##DL at %d says %d for its block %d, which begins at %d", at, off, i, len(all))
			}
			all = append(all, m.bytes(m.link(at, i))...)
		}
		return all
	case "DZ":
		z, err := zlib.NewReader(bytes.NewReader(m.data[from+24 : from+24+m.u(from+16, 8)]))
		if err != nil {
			m.t.Fatal(err)
		}
		b, err := io.ReadAll(z)
		if err != nil || uint64(len(b)) != m.u(from+8, 8) {
			m.t.Fatalf("##DZ at %d: %d bytes, %v", at, len(b), err)
		}
		if m.data[from+2] == 0 {
			return b
		}
		cols := int(m.u(from+4, 4))
		rows, out := len(b)/cols, make([]byte, 0, len(b))
		for r := range rows {
			for c := range cols {
				out = append(out, b[c*rows+r])
			}
		}
		return append(out, b[rows*cols:]...)
	}
	return m.data[from : from+size]
}

// Every block stands where the layout has it, and the numbers that the records hold are those that were written.
func TestLayout(t *testing.T) {
	for seed := range uint64(8) {
		f := invent(seed, seed%2 == 0)
		data, err := os.ReadFile(written(t, f))
		if err != nil {
			t.Fatal(err)
		}
		m := &image{t: t, data: data, seen: map[uint64]string{}}
		if string(data[:16]) != "MDF     4.10    " || m.u(28, 2) != 410 || m.u(60, 4) != 0 {
			t.Errorf("identification %q", data[:64])
		}
		m.walk(64, "HD")
		if m.link(64, 1) == 0 {
			t.Error("there is no file history")
		}
		if ns := m.u(64+24+48, 8); int64(ns) != f.Start.UnixNano() || m.data[64+24+48+12] != map[bool]byte{true: 1, false: 2}[f.Local] {
			t.Errorf("the header's time is %d, flags %d", ns, m.data[64+24+48+12])
		}
		dg := m.link(64, 0)
		for _, g := range f.Groups {
			m.group(dg, g)
			dg = m.link(dg, 0)
		}
	}
}

func (m *image) group(dg uint64, g export.Group) {
	cg := m.link(dg, 1)
	from, _ := m.body(cg)
	cycles, width, valid := m.u(from+8, 8), m.u(from+24, 4), m.u(from+28, 4)
	recs := m.bytes(m.link(dg, 2))
	if cycles != uint64(len(g.T)) || uint64(len(recs)) != cycles*(width+valid) {
		m.t.Fatalf("%d cycles of %d+%d bytes, %d bytes of data for %d rows", cycles, width, valid, len(recs), len(g.T))
	}
	cn := m.link(cg, 1)
	master, _ := m.body(cn)
	if !bytes.Equal(m.data[master:master+4], []byte{2, 1, 4, 0}) {
		m.t.Errorf("the first channel is %v, wanted a time master of floats", m.data[master:master+4])
	}
	for k := -1; cn != 0; k, cn = k+1, m.link(cn, 0) {
		d, _ := m.body(cn)
		if m.data[d] == 1 || m.link(cn, 4) != 0 || k >= len(g.Channels) {
			continue // Texts, and numbers with texts, are the reader's to check.
		}
		for row := range g.T {
			rec := recs[uint64(row)*(width+valid):]
			got := math.Float64frombits(binary.LittleEndian.Uint64(rec[m.u(d+4, 4):]))
			want := g.T[row]
			if k >= 0 {
				want = g.Channels[k].Values[row]
			}
			bit := m.u(d+16, 4)
			missing := m.u(d+12, 4)&2 != 0 && rec[width+bit/8]>>(bit%8)&1 == 1
			if missing != math.IsNaN(want) || !missing && got != want {
				m.t.Fatalf("channel %d, row %d: %v (missing %v), want %v", k, row, got, missing, want)
			}
		}
	}
}
