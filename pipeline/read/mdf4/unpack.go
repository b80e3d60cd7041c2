package mdf4

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/klauspost/compress/zlib"
)

const (
	mostHeld  = 24 << 20  // Bytes of one unpacked block in memory; the standard has writers stay below 4 MiB.
	mostKept  = 12 << 20  // Bytes of all blocks of a file that stay unpacked.
	mostWhole = 4 << 20   // Packed bytes that are read whole, from which the library unpacks faster.
	mostRatio = 1032      // What deflate can reach at best.
	mostFree  = 256 << 20 // Bytes that any file may unpack to,
	mostTimes = 200       // and how often its own size beyond them.
)

// inflater opens a packed part. Reading it to its end checks its checksum.
func (s *stream) inflater(p *part) (io.ReadCloser, error) {
	if p.size > p.stored*mostRatio+64 {
		return nil, harm("DZ", p.at, "%d bytes cannot unpack to %d", p.stored, p.size)
	}
	if s.unpacked += p.size; s.unpacked > mostFree+mostTimes*s.file.size {
		return nil, harm("DZ", p.at, "the file's %d bytes unpack to more than %d", s.file.size, mostFree+mostTimes*s.file.size)
	}
	in, err := s.packed(p)
	if err != nil {
		return nil, spoilt(p, err)
	}
	if z, ok := s.z.(zlib.Resetter); ok {
		err = z.Reset(in, nil)
	} else {
		var fresh io.ReadCloser
		if fresh, err = zlib.NewReader(in); err == nil {
			s.z = fresh
		}
	}
	if err != nil {
		return nil, spoilt(p, err)
	}
	return s.z, nil
}

// packed gives a part's stored bytes: in memory, or where they are many, by and by.
func (s *stream) packed(p *part) (io.Reader, error) {
	in := &source{r: io.NewSectionReader(p.in, p.from, p.stored)}
	if p.stored > mostWhole {
		if s.in == nil {
			s.in = bufio.NewReaderSize(in, 64<<10)
		}
		s.in.Reset(in)
		return s.in, nil
	}
	if int64(cap(s.whole)) < p.stored {
		s.whole = make([]byte, p.stored)
	}
	s.whole = s.whole[:p.stored]
	if n, err := io.ReadFull(in, s.whole); errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		s.whole = s.whole[:n] // Unpacking tells that it ends too soon.
	} else if err != nil {
		return nil, err
	}
	return bytes.NewReader(s.whole), nil
}

// source marks errors of the file itself, which are no damage of a packed block.
type source struct{ r io.Reader }

type unread struct{ error }

func (u unread) Unwrap() error { return u.error }

func (s *source) Read(b []byte) (int, error) {
	n, err := s.r.Read(b)
	if err != nil && !errors.Is(err, io.EOF) {
		err = unread{err}
	}
	return n, err
}

func spoilt(p *part, err error) error {
	var u unread
	if errors.As(err, &u) {
		return fmt.Errorf("read at offset %d: %w", p.from, u.error)
	}
	switch {
	case errors.Is(err, zlib.ErrChecksum):
		return harm("DZ", p.at, "its checksum does not fit what it unpacks to: its bytes are damaged")
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		return harm("DZ", p.at, "its packed data ends before the %d bytes that it stands for", p.size)
	}
	return harm("DZ", p.at, "it cannot be unpacked: %v", err)
}

// fill has a part's bytes taken and reads on to the end of the stream, so that its checksum is looked at.
func (s *stream) fill(p *part, take func(io.Reader) error) error {
	z, err := s.inflater(p)
	if err != nil {
		return err
	}
	if err := take(z); err != nil {
		var w written
		if errors.As(err, &w) {
			return w.error
		}
		return spoilt(p, err)
	}
	var one [1]byte
	switch n, err := io.ReadFull(z, one[:]); {
	case n > 0:
		return harm("DZ", p.at, "it unpacks to more than the %d bytes that it says", p.size)
	case !errors.Is(err, io.EOF):
		return spoilt(p, err)
	}
	return nil
}

// unpack unpacks a part into memory. It stays in columns where it is transposed.
func (s *stream) unpack(p *part) error {
	b := s.held.bytes
	s.held = unpacked{}
	if int64(cap(b)) < p.size {
		b = make([]byte, p.size)
	}
	b = b[:p.size]
	if err := s.fill(p, func(r io.Reader) error { _, err := io.ReadFull(r, b); return err }); err != nil {
		return err
	}
	s.held = unpacked{b, p.columns}
	return nil
}

// inRows gives a part's bytes in their order.
func (s *stream) inRows(u *unpacked) []byte {
	if u.columns > 0 {
		if cap(s.spare) < len(u.bytes) {
			s.spare = make([]byte, len(u.bytes))
		}
		out := s.spare[:len(u.bytes)]
		untranspose(out, u.bytes, u.columns)
		u.bytes, u.columns, s.spare = out, 0, u.bytes
	}
	return u.bytes
}

// scratch is a temporary file for what is too large to be held.
type scratch struct {
	f  *os.File
	at int64
}

// written marks a failure to write, which is no damage of the source.
type written struct{ error }

func (w written) Unwrap() error { return w.error }

func (s *scratch) Write(b []byte) (int, error) {
	if s.f == nil {
		f, err := nameless()
		if err != nil {
			return 0, written{err}
		}
		s.f = f
	}
	n, err := s.f.WriteAt(b, s.at)
	s.at += int64(n)
	if err != nil {
		err = written{fmt.Errorf("write a temporary file: %w", err)}
	}
	return n, err
}

func (s *scratch) ReadAt(b []byte, off int64) (int, error) {
	if s.f == nil {
		return 0, io.EOF
	}
	return s.f.ReadAt(b, off)
}

func (s *scratch) close() error {
	if s.f == nil {
		return nil
	}
	return s.f.Close()
}

// settle unpacks a part into the temporary file; it is a plain part there afterwards.
func (s *stream) settle(p *part) error {
	from := s.scratch.at
	err := s.fill(p, func(r io.Reader) error {
		n, err := io.Copy(s.scratch, io.LimitReader(r, p.size))
		if err == nil && n < p.size {
			err = io.ErrUnexpectedEOF
		}
		return err
	})
	if err != nil {
		return err
	}
	if p.columns > 0 {
		if from, err = s.turn(p, from); err != nil {
			return err
		}
	}
	p.in, p.from, p.stored, p.packed = s.scratch, from, p.size, false
	return nil
}

// turn puts a transposed part's rows in order, a block of rows at a time, and returns where they begin.
func (s *stream) turn(p *part, from int64) (int64, error) {
	columns := int64(p.columns)
	rows := p.size / columns
	to := s.scratch.at
	step := max(1, inMemory/columns)
	out, col := make([]byte, step*columns), make([]byte, step)
	for r := int64(0); r < rows; r += step {
		n := min(step, rows-r)
		for c := range columns {
			if _, err := s.scratch.ReadAt(col[:n], from+c*rows+r); err != nil {
				return 0, fmt.Errorf("read a temporary file: %w", err)
			}
			for i, b := range col[:n] {
				out[int64(i)*columns+c] = b
			}
		}
		if _, err := s.scratch.Write(out[:n*columns]); err != nil {
			return 0, err
		}
	}
	rest := make([]byte, p.size-rows*columns)
	if _, err := s.scratch.ReadAt(rest, from+rows*columns); err != nil && len(rest) > 0 {
		return 0, fmt.Errorf("read a temporary file: %w", err)
	}
	_, err := s.scratch.Write(rest)
	return to, err
}
