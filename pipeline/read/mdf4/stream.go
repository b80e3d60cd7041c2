package mdf4

import (
	"errors"
	"fmt"
	"io"
	"sort"
)

// part is one stored piece of a stream.
type part struct {
	id      string // Its block's name.
	at      int64  // Its block's offset.
	from    int64  // Where its bytes begin.
	stored  int64  // How many are stored.
	size    int64  // How many they stand for.
	start   int64  // Where they begin in the stream.
	packed  bool
	zip     byte
	param   uint32
	columns int   // Above 0: transposed, so many bytes a row.
	zeros   bool  // Nothing is stored: all its bytes are 0.
	bad     error // Nothing of it can be used.
	in      io.ReaderAt
}

// stream is the bytes of a chain of data blocks, as if they were one.
type stream struct {
	*file
	parts []part
	size  int64
	cut   error   // Why it ends before its end; nil when it is whole.
	said  []claim // What lists say of each part.
	zip   int     // How its list's head says the parts are packed, -1 when it does not.

	holding int // The part that is unpacked.
	held    unpacked
	spare   []byte
	kept    map[int]*unpacked // Parts that stay unpacked, as the file's room for such allows.
}

// hole is a stretch of a stream that cannot be used.
type hole struct {
	from, to int64
	err      error
}

func (h *hole) Error() string { return h.err.Error() }
func (h *hole) Unwrap() error { return h.err }

func (s *stream) add(p part) {
	p.start = s.size
	s.size += p.size
	s.parts = append(s.parts, p)
}

// partAt is the index of the part that an offset is in, -1 before all.
func (s *stream) partAt(off int64) int {
	return sort.Search(len(s.parts), func(i int) bool { return s.parts[i].start > off }) - 1
}

// memory gives a part's bytes that are unpacked in memory, until the next call; nil where they are not or cannot be used.
func (s *stream) memory(i int) (*unpacked, error) {
	q := &s.parts[i]
	if u, ok := s.kept[i]; ok || !q.packed || q.bad != nil {
		return u, nil
	}
	if err := s.hold(i); err != nil || !q.packed || q.bad != nil {
		return nil, err
	}
	return s.keep(i), nil
}

// view points r at up to n records from an offset where they stand, which is until the next call, and returns how many: those of
// one part that is unpacked in memory. It is 0 where they do not, and read tells why, or where short parts would make short batches.
func (s *stream) view(r *records, n int, off int64) int {
	i := s.partAt(off)
	if i < 0 {
		return 0
	}
	q, stride := &s.parts[i], int64(r.stride)
	at := off - q.start
	rows := (q.size - at) / stride
	if rows <= 0 || q.size/stride < int64(n) {
		return 0
	}
	n = int(min(int64(n), rows))
	u, err := s.memory(i)
	switch {
	case u == nil || err != nil:
		return 0
	case u.columns == r.stride && at%stride == 0:
		r.bytes, r.column = u.bytes[at/stride:], len(u.bytes)/u.columns
	default:
		r.bytes, r.column = s.inRows(u)[at:], 0
	}
	return n
}

// read fills p from an offset. It gives a *hole that begins at or behind the offset when a part it needs is damaged.
func (s *stream) read(p []byte, off int64) error {
	i := s.partAt(off)
	for len(p) > 0 {
		if i < 0 || i >= len(s.parts) || off >= s.size {
			return &hole{max(off, s.size), off + int64(len(p)), fmt.Errorf("the data ends at %d bytes", s.size)}
		}
		q := &s.parts[i]
		n := int(min(int64(len(p)), q.start+q.size-off))
		if n > 0 {
			if err := s.piece(i, p[:n], off-q.start); err != nil {
				return err
			}
		}
		p, off, i = p[n:], off+int64(n), i+1
	}
	return nil
}

// piece fills p from within a part.
func (s *stream) piece(i int, p []byte, off int64) error {
	u, err := s.memory(i)
	if err != nil {
		return err
	}
	q := &s.parts[i]
	switch {
	case q.bad != nil:
		return &hole{q.start, q.start + q.size, q.bad}
	case u != nil:
		copy(p, s.inRows(u)[off:])
		return nil
	case q.zeros:
		clear(p)
		return nil
	}
	if _, err := q.in.ReadAt(p, q.from+off); err != nil {
		return fmt.Errorf("read at offset %d: %w", q.from+off, err)
	}
	return nil
}

// hold unpacks a part, into memory when it is small and else into the temporary file.
func (s *stream) hold(i int) error {
	if s.holding == i && s.held.bytes != nil {
		return nil
	}
	if err := s.ctx.Err(); err != nil {
		return err
	}
	q := &s.parts[i]
	var err error
	if q.size <= mostHeld {
		err = s.unpack(q)
		s.holding = i
	} else {
		err = s.settle(q)
	}
	if err != nil && !isDamage(err) {
		return err
	}
	q.bad = err
	return nil
}

// keep has the part that is held stay unpacked where there is room: a short file's parts are each looked into before they are read.
func (s *stream) keep(i int) *unpacked {
	n := int64(len(s.held.bytes))
	if s.keeping+n > mostKept {
		return &s.held
	}
	if s.kept == nil {
		s.kept = map[int]*unpacked{}
	}
	u := s.held
	s.kept[i], s.held = &u, unpacked{}
	s.keeping += n
	return &u
}

// settleAll unpacks every part into the temporary file.
func (s *stream) settleAll() error {
	for i := range s.parts {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		q := &s.parts[i]
		if !q.packed || q.bad != nil {
			continue
		}
		if err := s.settle(q); err != nil {
			if !isDamage(err) {
				return err
			}
			q.bad = err
		}
	}
	s.held, s.spare, s.kept = unpacked{}, nil, nil
	return nil
}

// largest is the most that one of its packed parts takes in memory.
func (s *stream) largest() int64 {
	var n int64
	for _, p := range s.parts {
		if p.packed && p.size <= mostHeld {
			n = max(n, p.size)
		}
	}
	return n
}

// holeIn gives the hole that an error is.
func holeIn(err error) (*hole, bool) {
	var h *hole
	ok := errors.As(err, &h)
	return h, ok
}
