package mdf4_test

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"dynolake/pipeline/read/mdf4"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
)

// drain is a sink that keeps nothing but what is held at most.
type drain struct {
	rows, batches int
	held          uint64
	watch         bool
}

func (d *drain) Group(schema.Group) (int, error) { return 0, nil }
func (d *drain) Rows(_ int, b schema.Batch) error {
	d.rows += len(b.T)
	if d.batches++; d.watch && d.batches%64 == 0 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		d.held = max(d.held, m.HeapInuse)
	}
	return nil
}
func (d *drain) Restart() error      { return nil }
func (d *drain) Note(string, string) {}
func (d *drain) Find(schema.Finding) {}

// large writes an uncompressed file of so many records of a time and 31 channels of all usual widths, 200 bytes each.
func large(t testing.TB, rows int) string {
	t.Helper()
	g := cg("g", 1, rows, 200, 0, clock())
	last := g.links[1]
	offset := 8
	for i := range 31 {
		s := []shape{{typ: 4, bits: 64}, {typ: 4, bits: 32}, {bits: 16}, {typ: 2, bits: 32}, {bits: 64}}[i%5]
		s.offset = offset
		offset += s.bits / 8
		var conv *node
		if i%2 == 0 {
			conv = cc(1, nil, -40, 0.25)
		}
		c := cn("x", "V", s, conv, nil)
		last.links[0], last = c, c
	}
	d := dg(0, nil, g)
	head := image(410, 0, hd(d))
	binary.LittleEndian.PutUint64(head[d.at+24+16:], uint64(len(head)))
	path := filepath.Join(t.TempDir(), "large.mf4")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	head = append(head, bits("##DT", uint32(0), uint64(24+200*rows), uint64(0))...)
	if _, err := f.Write(head); err != nil {
		t.Fatal(err)
	}
	block := make([]byte, 0, 200<<10)
	for r := 0; r < rows; {
		block = block[:0]
		for ; r < rows && len(block) < 200<<10; r++ {
			rec := make([]byte, 200)
			copy(rec, f64(float64(r)/1000))
			for i := 8; i < 200; i++ {
				rec[i] = byte(i*r) & 0x3f
			}
			block = append(block, rec...)
		}
		if _, err := f.Write(block); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// Uncompressed data beside a plain read of the same bytes.
func BenchmarkRead(b *testing.B) {
	const rows = 128 << 20 / 200
	path := large(b, rows)
	src, room := file(path), make([]byte, 256<<10)
	b.SetBytes(2 * rows * 200)
	readtest.Beside(b, func() error {
		d := &drain{}
		err := (mdf4.Reader{}).Read(b.Context(), src, d)
		if err == nil && d.rows != rows {
			err = fmt.Errorf("%d rows, want %d", d.rows, rows)
		}
		return err
	}, func() error {
		f, err := os.Open(path)
		if err != nil {
			return err
		}
		_, err = io.CopyBuffer(struct{ io.Writer }{io.Discard}, struct{ io.Reader }{f}, room)
		return errors.Join(err, f.Close())
	})
}

// What is held does not grow with the file, from a file and from a stream that has to be spooled.
func TestMemoryIsBounded(t *testing.T) {
	path := large(t, 96<<20/200)
	stream := schema.Source{Name: "large.mf4", Size: -1, Open: func() (io.ReadCloser, error) {
		f, err := os.Open(path)
		return struct{ io.ReadCloser }{f}, err
	}}
	for name, src := range map[string]schema.Source{"file": file(path), "stream": stream} {
		var before runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		d := &drain{watch: true}
		if err := (mdf4.Reader{}).Read(context.Background(), src, d); err != nil {
			t.Fatal(err)
		}
		if grown := int64(d.held) - int64(before.HeapInuse); grown > 24<<20 || d.held == 0 {
			t.Errorf("%s: %d MiB held", name, grown>>20)
		}
	}
}
