package read

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"dynolake/schema"
)

// heldWhole is how large a source is held in memory at the most where it is to be read in any order.
const heldWhole = 32 << 20

// spool makes a source one that can be read in any order, as often as wanted: its bytes are copied to memory, or to a temporary file
// without a name, which goes with the last reference to it.
func spool(ctx context.Context, src schema.Source) (_ schema.Source, err error) {
	f, err := src.Open()
	if err != nil {
		return src, fmt.Errorf("open %s: %w", src.Name, err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	in := stoppable{ctx, f}
	var head bytes.Buffer
	n, err := io.CopyN(&head, in, heldWhole+1)
	switch {
	case errors.Is(err, io.EOF):
		return anyOrder(src, bytes.NewReader(head.Bytes()), n), nil
	case err != nil:
		return src, fmt.Errorf("read %s: %w", src.Name, err)
	}
	temp, err := os.CreateTemp("", "dynolake-source-")
	if err != nil {
		return src, fmt.Errorf("copy %s: %w", src.Name, err)
	}
	if err := os.Remove(temp.Name()); err != nil {
		return src, errors.Join(fmt.Errorf("copy %s: %w", src.Name, err), temp.Close())
	}
	n, err = io.Copy(temp, io.MultiReader(&head, in))
	if err != nil {
		return src, errors.Join(fmt.Errorf("read %s: %w", src.Name, err), temp.Close())
	}
	return anyOrder(src, temp, n), nil
}

// seekable gives a source that can be read in any order: itself where it can.
func seekable(ctx context.Context, src schema.Source) (schema.Source, error) {
	f, err := src.Open()
	if err != nil {
		return src, fmt.Errorf("open %s: %w", src.Name, err)
	}
	_, ok := f.(schema.At)
	if err := f.Close(); err != nil {
		return src, fmt.Errorf("close %s: %w", src.Name, err)
	}
	if ok && src.Size >= 0 {
		return src, nil
	}
	return spool(ctx, src)
}

func anyOrder(src schema.Source, at io.ReaderAt, size int64) schema.Source {
	src.Size = size
	src.Open = func() (io.ReadCloser, error) { return opened{io.NewSectionReader(at, 0, size)}, nil }
	return src
}

type opened struct{ *io.SectionReader }

func (opened) Close() error { return nil }

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
