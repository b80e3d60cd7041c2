package mdf4

import (
	"encoding/binary"
	"fmt"
	"io"
	"strings"
)

var le = binary.LittleEndian

// block is one block of the file. Its links are written as where those blocks stand, so these must be placed before it is
// written.
type block struct {
	id    string
	links []*block
	data  []byte
	at    int64
}

func (b *block) size() int64 { return 24 + 8*int64(len(b.links)) + int64(len(b.data)) }

// text makes a TX block; an empty text has none.
func text(s string) *block { return words("TX", s) }

func words(id, s string) *block {
	s = strings.ReplaceAll(s, "\x00", "")
	if s == "" {
		return nil
	}
	return &block{id: id, data: append([]byte(strings.ToValidUTF8(s, "\ufffd")), 0)}
}

// out writes blocks one behind the other, each at a multiple of 8.
type out struct {
	w  io.Writer
	at int64
}

func (o *out) write(b []byte) error {
	n, err := o.w.Write(b)
	o.at += int64(n)
	if err != nil {
		return fmt.Errorf("write MDF: %w", err)
	}
	return nil
}

// place says where blocks will stand when they are written next, one behind the other.
func (o *out) place(blocks []*block) {
	at := o.at
	for _, b := range blocks {
		at = (at + 7) &^ 7
		b.at = at
		at += b.size()
	}
}

// put writes blocks; those that have no place yet stand where they are written.
func (o *out) put(blocks ...*block) error {
	for _, b := range blocks {
		if pad := (8 - o.at%8) % 8; pad > 0 {
			if err := o.write(make([]byte, pad)); err != nil {
				return err
			}
		}
		b.at = o.at
		if err := o.write(b.head()); err != nil {
			return err
		}
		if err := o.write(b.data); err != nil {
			return err
		}
	}
	return nil
}

// head is a block up to its data.
func (b *block) head() []byte {
	h := make([]byte, 24, 24+8*len(b.links))
	copy(h, "##"+b.id)
	le.PutUint64(h[8:], uint64(b.size()))
	le.PutUint64(h[16:], uint64(len(b.links)))
	for _, l := range b.links {
		at := int64(0)
		if l != nil {
			at = l.at
		}
		h = le.AppendUint64(h, uint64(at))
	}
	return h
}
