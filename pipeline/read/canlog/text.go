package canlog

import (
	"bufio"
	"bytes"
	"errors"
	"io"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

const (
	probeSize = 64 << 10
	longLine  = 16 << 10 // No frame's line is nearly as long.
)

// decoder gives the decoding of a text that is not of single bytes, nil for one that is.
func decoder(head []byte) transform.Transformer {
	wide := func(e unicode.Endianness) transform.Transformer {
		return unicode.UTF16(e, unicode.UseBOM).NewDecoder()
	}
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")):
		return wide(unicode.LittleEndian)
	case bytes.HasPrefix(head, []byte("\xfe\xff")):
		return wide(unicode.BigEndian)
	}
	pairs := min(len(head), 512) / 2
	var even, odd int
	for i := range pairs {
		if head[2*i] == 0 {
			even++
		}
		if head[2*i+1] == 0 {
			odd++
		}
	}
	switch {
	case pairs < 8:
	case odd == pairs && even == 0:
		return wide(unicode.LittleEndian)
	case even == pairs && odd == 0:
		return wide(unicode.BigEndian)
	}
	return nil
}

var byteOrderMark = []byte("\xef\xbb\xbf")

// plain gives the head of a file as single bytes.
func plain(head []byte) []byte {
	if d := decoder(head); d != nil {
		out, _, _ := transform.Bytes(d, head[:len(head)&^1])
		return out
	}
	return bytes.TrimPrefix(head, byteOrderMark)
}

// lines parts a text into lines.
type lines struct {
	r    *bufio.Reader
	head []byte // The beginning, as single bytes.
	eol  byte
	line int  // The number of the line handed out, from 1.
	last bool // The line handed out has no ending.
	long int  // Lines passed over because of their length.
}

func newLines(f io.Reader) (*lines, error) {
	head := make([]byte, probeSize)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	head = head[:n]
	all := io.MultiReader(bytes.NewReader(head), f)
	text := plain(head)
	if d := decoder(head); d != nil {
		all = transform.NewReader(all, d)
	} else if bytes.HasPrefix(head, byteOrderMark) {
		all = io.MultiReader(bytes.NewReader(text), f)
	}
	l := &lines{r: bufio.NewReaderSize(all, longLine), head: text, eol: '\n'}
	if bytes.IndexByte(text, '\n') < 0 && bytes.IndexByte(text, '\r') >= 0 {
		l.eol = '\r'
	}
	return l, nil
}

// next gives a line without its ending, valid until the next call; io.EOF behind the last.
func (l *lines) next() ([]byte, error) {
	for {
		b, err := l.r.ReadSlice(l.eol)
		l.line++
		if errors.Is(err, bufio.ErrBufferFull) {
			l.long++
			for errors.Is(err, bufio.ErrBufferFull) {
				_, err = l.r.ReadSlice(l.eol)
			}
			if err == nil {
				continue
			}
			return nil, err
		}
		if err != nil && (!errors.Is(err, io.EOF) || len(b) == 0) {
			return nil, err
		}
		l.last = err != nil
		return bytes.TrimRight(b, "\r\n"), nil
	}
}
