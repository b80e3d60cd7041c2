package mdf4

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"dynolake/schema"
)

// inMemory is the most of a stream that is held in memory; what is larger goes to a temporary file.
const inMemory = 4 << 20

// store is random access to a source's bytes.
type store struct {
	io.ReaderAt
	size  int64
	close func() error
}

// open gives random access to a source: its own where it has that, else a copy.
func open(ctx context.Context, src schema.Source) (*store, error) {
	r, err := src.Open()
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", src.Name, err)
	}
	if at, ok := r.(interface {
		io.ReaderAt
		io.Seeker
	}); ok {
		if size, err := at.Seek(0, io.SeekEnd); err == nil {
			return &store{at, size, r.Close}, nil
		}
	}
	s, err := spool(&watched{ctx, r})
	if err = errors.Join(err, r.Close()); err != nil {
		if s != nil {
			err = errors.Join(err, s.close())
		}
		return nil, fmt.Errorf("read %s: %w", src.Name, err)
	}
	return s, nil
}

// watched is a reader that ends with its context.
type watched struct {
	ctx context.Context
	r   io.Reader
}

func (w *watched) Read(p []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.r.Read(p)
}

func spool(r io.Reader) (*store, error) {
	var b bytes.Buffer
	n, err := io.Copy(&b, io.LimitReader(r, inMemory+1))
	if err != nil {
		return nil, err
	}
	if n <= inMemory {
		return &store{bytes.NewReader(b.Bytes()), n, func() error { return nil }}, nil
	}
	f, err := nameless()
	if err != nil {
		return nil, err
	}
	n, err = io.Copy(f, io.MultiReader(&b, r))
	return &store{f, n, f.Close}, err
}

// nameless makes a temporary file that is gone when it is closed. Where a file in use cannot be removed its name stays behind.
func nameless() (*os.File, error) {
	f, err := os.CreateTemp("", "dynolake-*.tmp")
	if err != nil {
		return nil, fmt.Errorf("make a temporary file: %w", err)
	}
	_ = os.Remove(f.Name()) // A system that keeps open files lets it lie in its folder for temporary ones.
	return f, nil
}
