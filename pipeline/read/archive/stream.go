package archive

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/zstd"

	"dynolake/schema"
)

// Gzip opens .gz files. Its zero value is ready.
type Gzip struct{}

// Zstd opens .zst files. Its zero value is ready.
type Zstd struct{}

var _, _ schema.Container = Gzip{}, Zstd{}

// Form is the name of the form.
func (Gzip) Form() string { return "gzip" }

// Form is the name of the form.
func (Zstd) Form() string { return "zstd" }

// Probe looks for the magic bytes.
func (Gzip) Probe(head []byte) schema.Fit {
	return magic(head, "\x1f\x8b\x08", "gzip (magic 1F 8B 08)")
}

// Probe looks for the magic bytes.
func (Zstd) Probe(head []byte) schema.Fit {
	return magic(head, "\x28\xb5\x2f\xfd", "zstd (magic 28 B5 2F FD)")
}

func magic(head []byte, want, what string) schema.Fit {
	if bytes.HasPrefix(head, []byte(want)) {
		return schema.Fit{Score: 100, Why: what}
	}
	return schema.Fit{Why: "no " + what}
}

// Members gives the one file that is packed.
func (Gzip) Members(ctx context.Context, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	return stream{src, gunzip, true}.members(ctx)
}

// Members gives the one file that is packed.
func (Zstd) Members(ctx context.Context, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	return stream{src, unzstd, false}.members(ctx)
}

func gunzip(r io.Reader) (io.Reader, func() error, error) {
	z, err := gzip.NewReader(r)
	if err != nil {
		return nil, nil, err
	}
	return z, z.Close, nil
}

func unzstd(r io.Reader) (io.Reader, func() error, error) {
	z, err := zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(mostWindow))
	if err != nil {
		return nil, nil, err
	}
	return z, func() error { z.Close(); return nil }, nil
}

// mostWindow bounds what a .zst file may make its reader hold.
const mostWindow = 128 << 20

// stream is a packed file and how it is unpacked.
type stream struct {
	src    schema.Source
	unpack func(io.Reader) (io.Reader, func() error, error)
	sized  bool // Its last four bytes say how many it unpacks to.
}

// open unpacks the file's first bytes, all of them where most is negative.
func (s stream) open(ctx context.Context, most int64) (io.ReadCloser, error) {
	f, err := s.src.Open()
	if err != nil {
		return nil, err
	}
	in := &counted{Reader: f}
	if most >= 0 {
		in.Reader = io.LimitReader(f, most)
	}
	z, end, err := s.unpack(in)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("unpack: %w", damage(err)), f.Close())
	}
	return &unpacking{ctx: ctx, name: s.src.Name, from: z, packed: func() int64 { return in.n }, close: func() error { return errors.Join(end(), f.Close()) }}, nil
}

// members makes a source of what the stream unpacks to. Its beginning is read once, so that what cannot be unpacked is told.
func (s stream) members(ctx context.Context) ([]schema.Source, []schema.Finding, error) {
	open := func() (io.ReadCloser, error) { return s.open(ctx, -1) }
	f, err := open()
	if err == nil {
		var n int
		if n, err = f.Read(make([]byte, 1)); n == 1 || errors.Is(err, io.EOF) {
			err = nil
		}
		if end := f.Close(); n == 0 || !errors.Is(end, io.ErrUnexpectedEOF) { // Where it is cut is told when it is read so far.
			err = errors.Join(err, end)
		}
	}
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", s.src.Name, err)
	}
	return []schema.Source{{Name: s.src.Name, Size: -1, Open: open, Mend: s.mend}}, nil, nil
}
