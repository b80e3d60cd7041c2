package mdf4

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

const (
	headSize  = 24       // Of every block: "##" and its name, 4 bytes unused, length, count of links.
	mostIndex = 64 << 20 // Bytes of index blocks that are read from one file.
)

var (
	le = binary.LittleEndian
	be = binary.BigEndian
)

// damage is what is wrong with a block.
type damage struct {
	id   string // Two letters, or what was looked for.
	at   int64
	text string
}

func (d *damage) Error() string { return fmt.Sprintf("%s block at offset %d: %s", d.id, d.at, d.text) }

func harm(id string, at int64, format string, args ...any) error {
	return &damage{id, at, fmt.Sprintf(format, args...)}
}

// isDamage tells damage of the bytes from a failure to read them.
func isDamage(err error) bool {
	var d *damage
	return errors.As(err, &d)
}

// file is one source while it is read.
type file struct {
	*report
	ctx        context.Context
	at         io.ReaderAt
	size       int64
	version    int
	unfinished uint16 // Its marks; 0 for a finished file.
	index      int64  // Bytes of index blocks read so far.
	unpacked   int64  // Bytes unpacked so far.
	keeping    int64  // Bytes of parts that stay unpacked.
	seen       map[int64]bool
	texts      map[int64]note
	known      map[convKey]converted
	lists      map[int64]*stream // Of texts, by their first block.
	scratch    *scratch
	in         *bufio.Reader // Of large packed blocks, used again for each,
	whole      []byte        // as are the bytes of others
	z          io.ReadCloser // and what unpacks them.
	lost       error         // The first damage that cost something.
}

// block is one block whole.
type block struct {
	id    string
	at    int64
	links []int64
	data  []byte
}

// head reads a block's name, length and count of links.
func (f *file) head(at int64, want ...string) (id string, length int64, links int, err error) {
	first := strings.Join(want, " or ")
	if at < 64 || at > f.size-headSize {
		return "", 0, 0, harm(first, at, "the link leads out of the file of %d bytes: the file is cut or the link damaged", f.size)
	}
	var h [headSize]byte
	if _, err := f.at.ReadAt(h[:], at); err != nil {
		return "", 0, 0, fmt.Errorf("read at offset %d: %w", at, err)
	}
	id = string(h[2:4])
	if string(h[:2]) != "##" || !slices.Contains(want, id) {
		return "", 0, 0, harm(first, at, "expected the mark ##%s, found %q", first, h[:4])
	}
	n, l := le.Uint64(h[8:]), le.Uint64(h[16:])
	if n < headSize || n > 1<<62 {
		return "", 0, 0, harm(id, at, "its length of %d bytes cannot be", n)
	}
	if l > (n-headSize)/8 || l > 1<<24 {
		return "", 0, 0, harm(id, at, "%d links do not fit into its %d bytes", l, n)
	}
	return id, int64(n), int(l), nil
}

// block reads an index block whose data has at least so many bytes behind at least so many links.
func (f *file) block(at int64, links, data int, want ...string) (*block, error) {
	id, n, l, err := f.head(at, want...)
	if err != nil {
		return nil, err
	}
	if n > f.size-at {
		return nil, harm(id, at, "its %d bytes reach %d beyond the end of the file: the file is cut or the length damaged", n, n-(f.size-at))
	}
	if f.index += n; f.index > mostIndex {
		return nil, harm(id, at, "the file's index takes more than %d MiB", mostIndex>>20)
	}
	if l < links || n < int64(headSize+8*l+data) {
		return nil, harm(id, at, "%d bytes with %d links are too few: expected %d links and %d bytes of data", n, l, links, data)
	}
	b := make([]byte, n-headSize)
	if _, err := f.at.ReadAt(b, at+headSize); err != nil {
		return nil, fmt.Errorf("read at offset %d: %w", at, err)
	}
	out := &block{id: id, at: at, links: make([]int64, l), data: b[8*l:]}
	for i := range out.links {
		out.links[i] = int64(le.Uint64(b[8*i:]))
	}
	return out, nil
}

// once refuses a block that was reached before.
func (f *file) once(id string, at int64) error {
	if f.seen[at] {
		return harm(id, at, "two links lead to it: they run in a circle or are damaged")
	}
	f.seen[at] = true
	return nil
}
