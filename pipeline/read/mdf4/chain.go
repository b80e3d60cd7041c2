package mdf4

import (
	"fmt"
	"slices"
	"strings"
)

// What a chain may be made of.
var (
	recordKinds = []string{"DT", "DV"}
	textKinds   = []string{"SD"}
	validKinds  = []string{"DI"}
)

// chain follows a data link: one block, packed or not, or lists of them. valid is the stream of validity bytes that stand
// apart, nil where there are none. Damage ends the chain: cut says why.
func (f *file) chain(at int64, kinds []string) (s, valid *stream, err error) {
	s = &stream{file: f, zip: -1}
	if at == 0 {
		return s, nil, nil
	}
	id, _, _, err := f.head(at, append([]string{"DZ", "HL", "DL", "LD"}, kinds...)...)
	if err == nil && id == "HL" {
		var b *block
		if b, err = f.block(at, 1, 0, "HL"); err == nil {
			if len(b.data) > 2 {
				s.zip = int(b.data[2])
			}
			at = b.links[0]
			if at == 0 {
				return s, nil, nil
			}
			id, _, _, err = f.head(at, "DL", "LD")
		}
	}
	switch {
	case err != nil:
	case id == "DL":
		err = f.list(s, at, kinds)
	case id == "LD":
		valid = &stream{file: f, zip: -1}
		err = f.columns(s, valid, at)
	default:
		err = f.piece(s, at, kinds)
	}
	if isDamage(err) {
		s.cut = err
		err = nil
	}
	return s, valid, err
}

// piece adds one data block to a stream.
func (f *file) piece(s *stream, at int64, kinds []string) error {
	id, n, links, err := f.head(at, append([]string{"DZ"}, kinds...)...)
	if err != nil {
		return err
	}
	if err := f.once(id, at); err != nil {
		return err
	}
	begin := at + headSize + int64(8*links)
	room := f.size - begin
	if id != "DZ" {
		size := n - headSize - int64(8*links)
		p := part{id: id, at: at, from: begin, stored: size, size: size, in: f.at}
		if size > room {
			if room < 0 || f.unfinished&staleLength == 0 {
				err = harm(id, at, "its %d bytes of data reach %d beyond the end of the file: the file is cut or the length damaged", size, size-room)
			}
			p.stored, p.size = max(0, room), max(0, room)
		}
		s.add(p)
		return err
	}
	b, err := f.packed(at, n, links)
	if err != nil {
		return err
	}
	id = string(b[:2])
	if !slices.Contains(kinds, id) {
		return harm("DZ", at, "it packs a block %q: expected %s", id, strings.Join(kinds, " or "))
	}
	p := part{id: id, at: at, from: begin + 24, stored: int64(le.Uint64(b[16:])), size: int64(le.Uint64(b[8:])), packed: true, in: f.at}
	columns := le.Uint32(b[4:])
	p.zip, p.param = b[2], columns
	switch zip := b[2]; {
	case zip > 1:
		return harm("DZ", at, "it is packed in way %d: 0 and 1, deflate, are read", zip)
	case zip == 1 && (columns == 0 || int64(columns) > longestRecord):
		return harm("DZ", at, "it is transposed by %d columns", columns)
	case zip == 1:
		p.columns = int(columns)
	}
	if p.stored < 0 || p.size < 0 || p.stored > n-headSize-24 || p.size > (p.stored+64)*mostRatio {
		return harm("DZ", at, "%d packed bytes in a block of %d for %d bytes: one of the lengths is damaged", uint64(p.stored), n, uint64(p.size))
	}
	s.add(p)
	if p.stored > room-24 {
		last := &s.parts[len(s.parts)-1]
		last.bad = harm("DZ", at, "its packed bytes reach %d beyond the end of the file: the file is cut or the length damaged", p.stored-(room-24))
		return last.bad
	}
	return nil
}

// packed reads what a DZ block says of its content.
func (f *file) packed(at, n int64, links int) ([]byte, error) {
	begin := at + headSize + int64(8*links)
	if n < headSize+int64(8*links)+24 || begin > f.size-24 {
		return nil, harm("DZ", at, "its %d bytes are too few, or the file is cut", n)
	}
	b := make([]byte, 24)
	if _, err := f.at.ReadAt(b, begin); err != nil {
		return nil, fmt.Errorf("read at offset %d: %w", begin, err)
	}
	return b, nil
}

// list adds the blocks of a DL block and of those that follow it. What it says of their offsets is held against them.
func (f *file) list(s *stream, at int64, kinds []string) error {
	for at != 0 {
		if err := f.ctx.Err(); err != nil {
			return err
		}
		if err := f.once("DL", at); err != nil {
			return err
		}
		b, err := f.block(at, 1, 8, "DL")
		if err != nil {
			return err
		}
		count := int64(le.Uint32(b.data[4:]))
		if count > int64(len(b.links)-1) {
			return harm("DL", at, "it counts %d blocks and has %d links", count, len(b.links)-1)
		}
		for i, link := range b.links[1 : 1+count] {
			if link == 0 {
				if f.unfinished&staleList != 0 {
					continue
				}
				return harm("DL", at, "one of its %d links is empty", count)
			}
			s.said = append(s.said, saying(b.data[0]&1 != 0, b.data[8:], i))
			if err := f.piece(s, link, kinds); err != nil {
				return err
			}
		}
		at = b.links[0]
	}
	return nil
}

// columns adds the blocks of an LD block and of those that follow it: values, and validity bytes where there are some.
func (f *file) columns(s, valid *stream, at int64) error {
	const validBytes = 1 << 31
	for at != 0 {
		if err := f.ctx.Err(); err != nil {
			return err
		}
		if err := f.once("LD", at); err != nil {
			return err
		}
		b, err := f.block(at, 1, 8, "LD")
		if err != nil {
			return err
		}
		flags, count := le.Uint32(b.data), int64(le.Uint32(b.data[4:]))
		need := count
		if flags&validBytes != 0 {
			need *= 2
		}
		if need > int64(len(b.links)-1) {
			return harm("LD", at, "it counts %d blocks and has %d links", count, len(b.links)-1)
		}
		for i := range int(count) {
			s.said = append(s.said, saying(flags&1 != 0, b.data[8:], i))
			if err := f.piece(s, b.links[1+i], recordKinds); err != nil {
				return err
			}
			if flags&validBytes == 0 || b.links[1+int(count)+i] == 0 {
				valid.add(part{id: "DI", at: b.at, zeros: true})
				continue
			}
			if err := f.piece(valid, b.links[1+int(count)+i], validKinds); err != nil {
				return err
			}
		}
		at = b.links[0]
	}
	return nil
}
