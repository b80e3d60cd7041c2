package columnar

import (
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow-go/v18/parquet/file"
)

// The decoder looks for a page's header in ever larger buffers, 16 MiB a column before it gives up, so that headers are walked
// first. They are Thrift structures in the compact protocol; fields 2 and 3 are the page's size unpacked and packed.

// longestHeader is how many bytes a page's header may take: more than its statistics ever need.
const longestHeader = 1 << 20

// pages walks the pages of a row group's columns and names the first that does not fit.
func pages(f *file.Reader, in io.ReaderAt, size int64, group int) error {
	meta := f.MetaData().RowGroup(group)
	for i := range meta.NumColumns() {
		c, err := meta.ColumnChunk(i)
		if err != nil {
			return fmt.Errorf("column %d: %w", i, err)
		}
		if c.CryptoMetadata() != nil {
			continue // The decoder refuses it.
		}
		at := c.DataPageOffset()
		if d := c.DictionaryPageOffset(); c.HasDictionaryPage() && d > 0 && d < at {
			at = d
		}
		end := at + c.TotalCompressedSize()
		if at < 4 || end < at || end > size {
			return fmt.Errorf("column %q: its pages at offset %d reach to %d in a file of %d bytes", c.PathInSchema(), at, end, size)
		}
		if at, err := walk(in, at, end); err != nil {
			return fmt.Errorf("column %q, page at offset %d: %w", c.PathInSchema(), at, err)
		}
	}
	return nil
}

// walk goes from page to page; an error comes with the offset of the page that it is about.
func walk(in io.ReaderAt, at, end int64) (int64, error) {
	buf := make([]byte, 512)
	for at < end {
		h, err := header(in, at, end, buf)
		if err != nil {
			return at, err
		}
		if h.packed < 0 || h.unpacked < 0 || at+h.length+h.packed > end {
			return at, fmt.Errorf("%d packed and %d unpacked bytes do not fit into the %d of its column", h.packed, h.unpacked, end-at)
		}
		at += h.length + h.packed
	}
	return at, nil
}

// pageHeader is what a page's header says of sizes.
type pageHeader struct{ length, packed, unpacked int64 }

// header reads a page's header, in a larger buffer where it does not fit into the one at hand.
func header(in io.ReaderAt, at, end int64, buf []byte) (pageHeader, error) {
	for {
		b := buf[:min(int64(len(buf)), end-at)]
		if _, err := in.ReadAt(b, at); err != nil {
			return pageHeader{}, err
		}
		t := thrift{b: b}
		h, err := t.pageHeader()
		if !errors.Is(err, errShort) || int64(len(b)) == end-at || len(b) >= longestHeader {
			return h, err
		}
		buf = make([]byte, 8*len(buf))
	}
}

var (
	errShort  = errors.New("its header does not end")
	errThrift = errors.New("its header is damaged")
)

// thrift reads the compact protocol.
type thrift struct {
	b  []byte
	at int
}

func (t *thrift) pageHeader() (h pageHeader, err error) {
	err = t.fields(0, func(id int64, value int64) {
		switch id {
		case 2:
			h.unpacked = value
		case 3:
			h.packed = value
		}
	})
	h.length = int64(t.at)
	return h, err
}

func (t *thrift) byte() (byte, error) {
	if t.at >= len(t.b) {
		return 0, errShort
	}
	t.at++
	return t.b[t.at-1], nil
}

func (t *thrift) varint() (uint64, error) {
	var v uint64
	for shift := 0; shift < 64; shift += 7 {
		c, err := t.byte()
		if err != nil {
			return 0, err
		}
		v |= uint64(c&0x7f) << shift
		if c < 0x80 {
			return v, nil
		}
	}
	return 0, errThrift
}

func (t *thrift) signed() (int64, error) {
	v, err := t.varint()
	return int64(v>>1) ^ -int64(v&1), err
}

func (t *thrift) skip(n uint64) error {
	if n > uint64(len(t.b)-t.at) {
		t.at = len(t.b)
		return errShort
	}
	t.at += int(n)
	return nil
}

// fields goes through a structure, and passes on the whole numbers at its top.
func (t *thrift) fields(depth int, take func(id, value int64)) error {
	if depth > 16 {
		return errThrift
	}
	id := int64(0)
	for {
		head, err := t.byte()
		if err != nil || head == 0 {
			return err
		}
		if delta := int64(head >> 4); delta > 0 {
			id += delta
		} else if id, err = t.signed(); err != nil {
			return err
		}
		v, err := t.value(head&15, depth)
		if err != nil {
			return err
		}
		if take != nil && head&15 >= 4 && head&15 <= 6 {
			take(id, v)
		}
	}
}

// value reads one value of a type; whole numbers are returned, others passed over.
func (t *thrift) value(kind byte, depth int) (int64, error) {
	switch kind {
	case 1, 2: // Truth values stand in the type.
		return 0, nil
	case 3:
		return 0, t.skip(1)
	case 4, 5, 6:
		return t.signed()
	case 7:
		return 0, t.skip(8)
	case 8:
		n, err := t.varint()
		if err != nil {
			return 0, err
		}
		return 0, t.skip(n)
	case 9, 10:
		return 0, t.list(depth)
	case 12:
		return 0, t.fields(depth+1, nil)
	}
	return 0, errThrift
}

func (t *thrift) list(depth int) error {
	head, err := t.byte()
	if err != nil {
		return err
	}
	n := uint64(head >> 4)
	if n == 15 {
		if n, err = t.varint(); err != nil {
			return err
		}
	}
	for ; n > 0; n-- {
		if head&15 <= 2 {
			err = t.skip(1)
		} else {
			_, err = t.value(head&15, depth+1)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
