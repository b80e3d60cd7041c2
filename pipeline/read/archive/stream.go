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
	return one(ctx, src, func(r io.Reader) (io.Reader, func() error, error) {
		z, err := gzip.NewReader(r)
		if err != nil {
			return nil, nil, err
		}
		return z, z.Close, nil
	})
}

// Members gives the one file that is packed.
func (Zstd) Members(ctx context.Context, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	return one(ctx, src, func(r io.Reader) (io.Reader, func() error, error) {
		z, err := zstd.NewReader(r, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(mostWindow))
		if err != nil {
			return nil, nil, err
		}
		return z, func() error { z.Close(); return nil }, nil
	})
}

// mostWindow bounds what a .zst file may make its reader hold.
const mostWindow = 128 << 20

// one makes a source of what a stream unpacks to. Its beginning is read once, so that what cannot be unpacked is told.
func one(ctx context.Context, src schema.Source, unpack func(io.Reader) (io.Reader, func() error, error)) ([]schema.Source, []schema.Finding, error) {
	open := func() (io.ReadCloser, error) {
		f, err := src.Open()
		if err != nil {
			return nil, err
		}
		in := &counted{Reader: f}
		z, end, err := unpack(in)
		if err != nil {
			return nil, errors.Join(fmt.Errorf("unpack: %w", damage(err)), f.Close())
		}
		return &unpacking{ctx: ctx, name: src.Name, from: z, packed: func() int64 { return in.n }, close: func() error { return errors.Join(end(), f.Close()) }}, nil
	}
	f, err := open()
	if err == nil {
		if _, err = f.Read(make([]byte, 1)); errors.Is(err, io.EOF) {
			err = nil
		}
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", src.Name, err)
	}
	return []schema.Source{{Name: src.Name, Size: -1, Open: open}}, nil, nil
}
