package delimited

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

const (
	maxLine   = 1 << 20 // A longer line is passed over and counted.
	chunkSize = 256 << 10
)

// scanner hands out lines from a buffer that slides over the file; it never holds more than a few lines' caps.
type scanner struct {
	r        io.Reader
	buf      []byte
	pos, end int
	last     int // Where the line handed out last starts.
	eof      bool
	eol      byte
	line     int // Number of the line at pos, from 1.
	tooLong  func(line int)
}

func newScanner(r io.Reader, eol byte, tooLong func(line int)) *scanner {
	return &scanner{r: r, buf: make([]byte, 2*chunkSize), eol: eol, line: 1, tooLong: tooLong}
}

// fill reads more behind what is held, making room first.
func (s *scanner) fill() error {
	if s.eof {
		return nil
	}
	if s.pos > 0 && len(s.buf)-s.end < chunkSize {
		copy(s.buf, s.buf[s.pos:s.end])
		s.pos, s.end = 0, s.end-s.pos
	}
	if len(s.buf)-s.end < chunkSize/2 {
		grown := make([]byte, 2*len(s.buf))
		copy(grown, s.buf[:s.end])
		s.buf = grown
	}
	for range 100 {
		n, err := s.r.Read(s.buf[s.end:])
		s.end += n
		if errors.Is(err, io.EOF) {
			s.eof = true
			return nil
		}
		if err != nil {
			return fmt.Errorf("read on from line %d: %w", s.line, err)
		}
		if n > 0 {
			return nil
		}
	}
	return io.ErrNoProgress
}

// next gives the next line without its ending; whole is false for a last line that has none. The slice is valid until the
// next call. It returns io.EOF behind the last line.
func (s *scanner) next() (line []byte, whole bool, err error) {
	from := 0
	for {
		if i := bytes.IndexByte(s.buf[s.pos+from:s.end], s.eol); i >= 0 {
			line = s.buf[s.pos : s.pos+from+i]
			s.last = s.pos
			s.pos += from + i + 1
			s.line++
			return trimReturn(line), true, nil
		}
		from = s.end - s.pos
		switch {
		case s.eof && from == 0:
			return nil, false, io.EOF
		case from > maxLine:
			if err := s.passLine(); err != nil {
				return nil, false, err
			}
			from = 0
		case s.eof:
			line = s.buf[s.pos:s.end]
			s.last, s.pos = s.pos, s.end
			s.line++
			return line, false, nil
		default:
			if err := s.fill(); err != nil {
				return nil, false, err
			}
		}
	}
}

// passLine drops the rest of the line at pos, however long.
func (s *scanner) passLine() error {
	s.tooLong(s.line)
	for {
		if i := bytes.IndexByte(s.buf[s.pos:s.end], s.eol); i >= 0 {
			s.pos += i + 1
			s.line++
			return nil
		}
		s.pos = s.end
		if s.eof {
			return nil
		}
		if err := s.fill(); err != nil {
			return err
		}
	}
}

// peek gives whole lines from pos on without taking them: about size bytes, less at the end of the file, never nothing
// while a line is left. Its slice is valid until the scanner moves.
func (s *scanner) peek(size int) ([]byte, error) {
	for {
		for s.end-s.pos < size && !s.eof {
			if err := s.fill(); err != nil {
				return nil, err
			}
		}
		held := s.buf[s.pos:s.end]
		first := bytes.IndexByte(held, s.eol)
		switch {
		case first > maxLine || first < 0 && len(held) > maxLine:
			if err := s.passLine(); err != nil {
				return nil, err
			}
		case s.eof && len(held) <= size:
			return held, nil
		default:
			if i := bytes.LastIndexByte(held[:min(size, len(held))], s.eol); i >= 0 {
				return held[:i+1], nil
			}
			if first >= 0 {
				return held[:first+1], nil
			}
			size = len(held) + chunkSize
			if s.eof {
				return held, nil
			}
		}
	}
}

// skip takes n bytes that hold the given number of lines.
func (s *scanner) skip(n, lines int) {
	s.pos += n
	s.line += lines
}

// back puts the line just handed out back.
func (s *scanner) back() {
	s.pos = s.last
	s.line--
}

func trimReturn(line []byte) []byte {
	for len(line) > 0 && line[len(line)-1] == '\r' {
		line = line[:len(line)-1]
	}
	return line
}
