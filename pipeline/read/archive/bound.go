package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
)

const (
	smallUnpacked = 64 << 20 // Whatever is packed may unpack to this,
	mostRatio     = 200      // or to this many times its size,
	mostUnpacked  = 16 << 30 // but never to more.
	mostMembers   = 10_000
)

// allowed is what packed bytes may unpack to.
func allowed(packed int64) int64 {
	if packed > mostUnpacked/mostRatio {
		return mostUnpacked
	}
	return max(smallUnpacked, packed*mostRatio)
}

// unpacking reads a member within its bounds and names it in errors.
type unpacking struct {
	ctx    context.Context
	name   string
	from   io.Reader
	packed func() int64 // Bytes of the archive that were taken in so far.
	n      int64
	close  func() error
}

func (u *unpacking) Read(p []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := u.from.Read(p)
	u.n += int64(n)
	if most := allowed(u.packed()); u.n > most {
		return 0, fmt.Errorf("unpack: %d packed bytes give more than %d: expected at most %d times as many: it is refused as made to fill a disk", u.packed(), most, mostRatio)
	}
	if err != nil && !errors.Is(err, io.EOF) {
		err = fmt.Errorf("unpack at byte %d: %w", u.n, damage(err))
	}
	return n, err
}

// damage says of an end that came too soon what it means.
func damage(err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("%w: the file is cut", err)
	}
	return err
}

func (u *unpacking) Close() error {
	if err := u.close(); err != nil {
		return fmt.Errorf("unpack %s: %w", u.name, damage(err))
	}
	return nil
}

// counted counts the bytes that are read.
type counted struct {
	io.Reader
	n int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.n += int64(n)
	return n, err
}
