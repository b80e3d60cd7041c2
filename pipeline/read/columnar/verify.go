package columnar

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// The decoder of Arrow's metadata believes every count in it, so that they are looked at first. The tables and the order of their
// fields are those of the Arrow columnar format 1.5, Schema.fbs, Message.fbs and File.fbs.

// flat is a FlatBuffers buffer.
type flat []byte

// table is the position of a table in it.
type table struct {
	b  flat
	at int
}

var errFlat = errors.New("its metadata points outside of itself")

func (b flat) u32(at int) int {
	if at < 0 || at > len(b)-4 {
		panic(errFlat)
	}
	return int(binary.LittleEndian.Uint32(b[at:]))
}

// field is where a table's field lies, 0 where it has none.
func (t table) field(n int) int {
	v := t.at - int(int32(t.b.u32(t.at)))
	if v < 0 || v > len(t.b)-4 {
		panic(errFlat)
	}
	if size := int(binary.LittleEndian.Uint16(t.b[v:])); 4+2*n >= size {
		return 0
	}
	if v+4+2*n+2 > len(t.b) {
		panic(errFlat)
	}
	off := int(binary.LittleEndian.Uint16(t.b[v+4+2*n:]))
	if off == 0 {
		return 0
	}
	return t.at + off
}

func (t table) table(n int) (table, bool) {
	at := t.field(n)
	if at == 0 {
		return table{}, false
	}
	return table{t.b, at + t.b.u32(at)}, true
}

// vector gives where a vector's elements begin and how many there are, of so many bytes each.
func (t table) vector(n, size int) (at, count int) {
	if at = t.field(n); at == 0 {
		return 0, 0
	}
	at += t.b.u32(at)
	if count = t.b.u32(at); count > (len(t.b)-at-4)/size {
		panic(errFlat)
	}
	return at + 4, count
}

func (t table) each(n int, do func(table)) {
	at, count := t.vector(n, 4)
	for i := range count {
		do(table{t.b, at + 4*i + t.b.u32(at+4*i)})
	}
}

func (t table) pairs(n int) {
	t.each(n, func(kv table) { kv.vector(0, 1); kv.vector(1, 1) })
}

func (t table) schema() {
	t.each(1, func(f table) { f.fields(0) })
	t.pairs(2)
	t.vector(3, 8)
}

func (t table) fields(depth int) {
	if depth > 64 {
		panic(errors.New("its columns lie within one another more than 64 deep"))
	}
	t.vector(0, 1)
	if kind, ok := t.table(3); ok {
		if k := t.field(2); k > 0 && k < len(t.b) && (t.b[k] == 10 || t.b[k] == 14) { // Timestamp, with its zone, and Union, with its ids.
			kind.vector(1, 1)
		}
	}
	t.each(5, func(f table) { f.fields(depth + 1) })
	t.pairs(6)
}

func (t table) batch() {
	t.vector(1, 16)
	t.vector(2, 16)
	t.vector(4, 8)
}

// message looks at one message: a schema, or rows.
func message(b flat) {
	t := table{b, b.u32(0)}
	t.pairs(4)
	header, ok := t.table(2)
	kind := t.field(1)
	if !ok || kind <= 0 || kind >= len(b) {
		return
	}
	switch b[kind] {
	case 1:
		header.schema()
	case 2:
		if data, ok := header.table(1); ok {
			data.batch()
		}
	case 3:
		header.batch()
	}
}

// length of a message's body.
func (b flat) body() int64 {
	t := table{b, b.u32(0)}
	at := t.field(3)
	if at == 0 {
		return 0
	}
	if at > len(b)-8 {
		panic(errFlat)
	}
	return int64(binary.LittleEndian.Uint64(b[at:]))
}

// footer looks at a file's footer and gives where its messages begin.
func footer(b flat) []int64 {
	t := table{b, b.u32(0)}
	if s, ok := t.table(1); ok {
		s.schema()
	}
	t.pairs(4)
	var blocks []int64
	for _, n := range []int{2, 3} {
		at, count := t.vector(n, 24)
		for i := range count {
			blocks = append(blocks, int64(binary.LittleEndian.Uint64(b[at+24*i:])))
		}
	}
	return blocks
}

// verify looks at all metadata of a stream, or of a file from offset 8 on and at its end. It gives how many bytes of a stream are
// whole messages; all of it, where it ends as it should.
func verify(in io.ReaderAt, size int64, isFile bool) (whole int64, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%v: the file is damaged", p)
		}
	}()
	at, end := int64(0), size
	if isFile {
		foot, err := tail(in, size)
		if err != nil {
			return 0, err
		}
		for _, block := range footer(foot) {
			if block < 0 || block >= size {
				return 0, errFlat
			}
			if _, err := verifyOne(in, block, size); err != nil {
				return 0, fmt.Errorf("message at offset %d: %w", block, err)
			}
		}
		at, end = 8, size-10-int64(len(foot))
	}
	for at < end {
		next, err := verifyOne(in, at, end)
		switch {
		case errors.Is(err, errCut) && !isFile:
			return at, nil // The decoder says so where it meets it, behind the rows that are whole.
		case err != nil:
			return 0, fmt.Errorf("message at offset %d: %w", at, err)
		case next == at:
			return size, nil
		}
		at = next
	}
	return size, nil
}

// tail reads a file's footer.
func tail(in io.ReaderAt, size int64) ([]byte, error) {
	if size < 20 {
		return nil, io.ErrUnexpectedEOF
	}
	end := make([]byte, 10)
	if _, err := in.ReadAt(end, size-10); err != nil {
		return nil, err
	}
	n := int64(int32(binary.LittleEndian.Uint32(end)))
	if string(end[4:]) != "ARROW1" || n <= 0 || n > size-18 {
		return nil, errors.New("its end holds no footer (magic ARROW1)")
	}
	foot := make([]byte, n)
	_, err := in.ReadAt(foot, size-10-n)
	return foot, err
}

var errCut = fmt.Errorf("it reaches beyond the end: %w", io.ErrUnexpectedEOF)

// verifyOne looks at the message at an offset and gives that of the next; the same one at the end mark.
func verifyOne(in io.ReaderAt, at, end int64) (int64, error) {
	var head [8]byte
	if n, err := in.ReadAt(head[:min(8, end-at)], at); err != nil && !errors.Is(err, io.EOF) {
		return at, err
	} else if n < 4 {
		return at, errCut
	}
	n, skip := int64(binary.LittleEndian.Uint32(head[:])), int64(4)
	if n == 0xffffffff {
		n, skip = int64(binary.LittleEndian.Uint32(head[4:])), 8
	}
	if n == 0 {
		return at, nil
	}
	if n > end-at-skip {
		return at, errCut
	}
	meta := make([]byte, n)
	if _, err := in.ReadAt(meta, at+skip); err != nil {
		return at, err
	}
	message(meta)
	body := flat(meta).body()
	if body < 0 || body > end-at-skip-n {
		return at, errCut
	}
	return at + skip + n + body, nil
}
