package archive

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"dynolake/schema"
)

// spared is how many packed bytes before the cut are left unread, so that what is kept never hangs on them: bytes that were
// damaged just before the stream's end look like a cut, and unpack to something else than what was packed.
const spared = 64

// mend gives the whole lines of a text that unpack before the place where the file breaks off. The error says why there are none:
// the stream is whole, it is damaged and not cut, or what is packed is no text.
func (s stream) mend(ctx context.Context) (schema.Source, []schema.Finding, error) {
	none := func(err error) (schema.Source, []schema.Finding, error) {
		return schema.Source{}, nil, fmt.Errorf("%s: %w", s.src.Name, err)
	}
	size, last, err := s.end(ctx)
	if err != nil {
		return none(err)
	}
	kept, err := s.lines(ctx, size)
	if errors.Is(err, io.ErrUnexpectedEOF) {
		kept, err = s.lines(ctx, size-spared)
	}
	switch {
	case err == nil:
		return none(errors.New("it is whole"))
	case !errors.Is(err, io.ErrUnexpectedEOF):
		return none(fmt.Errorf("it is damaged, not cut: %w", err))
	case kept.binary:
		return none(fmt.Errorf("what is packed is no text: %w", err))
	case kept.whole == 0:
		return none(fmt.Errorf("no line of it is whole: %w", err))
	case s.sized && near(kept.all, int64(last)):
		return none(fmt.Errorf("its last bytes say that it unpacks to %d, as those of a file do that is whole and damaged: %w", last, err))
	}
	open := func() (io.ReadCloser, error) {
		f, err := s.open(ctx, size-spared)
		if err != nil {
			return nil, err
		}
		return &limited{f, kept.whole}, nil
	}
	nan := math.NaN()
	found := schema.Finding{
		Source: s.src.Name, Severity: schema.Doubt, Code: "archive_cut", Value: float64(kept.whole), T0S: nan, T1S: nan,
		Text: fmt.Sprintf("%s breaks off at its byte %d: the first %d bytes that it unpacks to are kept, whole lines alone; what follows is lost, and the checksum, which stands at the end, could not be looked at: get the file again", s.src.Name, size, kept.whole),
	}
	return schema.Source{Name: s.src.Name, Size: kept.whole, Open: open}, []schema.Finding{found}, nil
}

// near reports whether the size that a whole file's end states is about what was unpacked of it.
func near(unpacked, stated int64) bool {
	off := max(stated-unpacked, unpacked-stated)
	return off <= unpacked/8+4096
}

// end gives the size of the packed file and its last four bytes.
func (s stream) end(ctx context.Context) (size int64, last uint32, err error) {
	f, err := s.src.Open()
	if err != nil {
		return 0, 0, err
	}
	var t tail
	size, err = io.Copy(&t, stoppable{ctx, f})
	return size, binary.LittleEndian.Uint32(t[:]), errors.Join(err, f.Close())
}

// tail keeps the last four bytes that were written.
type tail [4]byte

func (t *tail) Write(p []byte) (int, error) {
	all := append(t[:len(t):len(t)], p...)
	copy(t[:], all[len(all)-len(t):])
	return len(p), nil
}

// kept is what a cut stream unpacks to.
type kept struct {
	all    int64
	whole  int64 // Up to the end of the last whole line.
	binary bool
}

// lines unpacks the file's first bytes; the error is what ended it, nil for the stream's end.
func (s stream) lines(ctx context.Context, most int64) (kept, error) {
	var k kept
	if most <= 0 {
		return k, io.ErrUnexpectedEOF
	}
	f, err := s.open(ctx, most)
	if err != nil {
		return k, err
	}
	wide := 0 // Of a two-byte line end, what follows its 0x0A.
	buf := make([]byte, 64<<10)
	for {
		n, err := f.Read(buf)
		chunk := buf[:n]
		if k.all == 0 && n > 0 {
			wide = k.look(chunk)
		}
		if i := bytes.LastIndexByte(chunk[:max(n-wide, 0)], '\n'); i >= 0 {
			k.whole = k.all + int64(i+1+wide)
		}
		k.all += int64(n)
		switch {
		case errors.Is(err, io.EOF):
			return k, f.Close()
		case err != nil:
			return k, errors.Join(err, f.Close())
		}
	}
}

// look tells text from other bytes by its beginning, and gives what follows the 0x0A of a line's end.
func (k *kept) look(head []byte) int {
	switch {
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}):
		return 1 // UTF-16, little-endian.
	case bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return 0
	}
	k.binary = bytes.IndexByte(head, 0) >= 0
	return 0
}

// limited reads no more than the bytes that are kept.
type limited struct {
	f    io.ReadCloser
	left int64
}

func (l *limited) Read(p []byte) (int, error) {
	if l.left == 0 {
		return 0, io.EOF
	}
	n, err := l.f.Read(p[:min(int64(len(p)), l.left)])
	if l.left -= int64(n); l.left == 0 {
		err = nil // What comes behind is known.
	}
	return n, err
}

// Close leaves what is behind the limit unread; that it ends too soon is known.
func (l *limited) Close() error {
	if err := l.f.Close(); !errors.Is(err, io.ErrUnexpectedEOF) {
		return err
	}
	return nil
}

// stoppable ends a copy when the context does.
type stoppable struct {
	ctx context.Context
	r   io.Reader
}

func (s stoppable) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(p)
}
