package mdf4

import (
	"bytes"
	"math"
	"strings"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"dynolake/schema"
)

// cell is a text as stored and as read.
type cell struct {
	raw   string
	text  string
	value float64
	known bool
}

// words fills a channel of texts.
func (e *emitter) words(l *lane, ch int, v []float64) error {
	recs := l.bank.buf.whole(len(v))
	m := l.bank.marks(l.channel, len(v))
	for i := range v {
		v[i] = math.NaN()
		if m.invalid(i) {
			if l.list != nil {
				l.list.skip()
			}
			continue
		}
		rec := recs[i*l.bank.stride:]
		var raw []byte
		if l.kind == anyLength {
			var err error
			if raw, err = l.list.at(l.field.raw(rec)); err != nil {
				if _, ok := holeIn(err); !ok && !isDamage(err) {
					return err
				}
				e.lose(err)
				e.count(schema.Doubt, "texts_lost", l.name, 1, err, escaped(l.name)+": %d texts cannot be read")
				continue
			}
		} else {
			raw = l.stored(rec)
		}
		if !l.last.known || l.last.raw != string(raw) {
			l.last = l.read(raw)
		}
		if v[i] = l.last.value; l.last.text != "" {
			e.texts = append(e.texts, schema.Text{Row: i, Channel: ch, Text: l.last.text})
		}
	}
	return nil
}

// stored is a text's bytes within its record.
func (l *lane) stored(rec []byte) []byte {
	n := int(l.bits / 8)
	if l.size != nil {
		n = int(min(uint64(n), l.size.field.raw(rec)))
	}
	return rec[l.offset : int(l.offset)+n]
}

// read decodes a text and converts it.
func (l *lane) read(raw []byte) cell {
	c := cell{raw: string(raw), text: decoded(l.typ, raw), value: math.NaN(), known: true}
	if w, ok := l.conv.(worded); ok {
		c.value, c.text = w.word(c.text)
		if math.IsInf(c.value, 0) {
			c.value = math.NaN()
		}
	}
	return c
}

// decoded is a text of a data type up to its first zero.
func decoded(typ uint8, raw []byte) string {
	switch typ {
	case textLatin:
		raw, _ = charmap.ISO8859_1.NewDecoder().Bytes(raw)
	case textLatin + 1:
	default:
		order := unicode.LittleEndian
		if typ == textUTF16Big {
			order = unicode.BigEndian
		}
		raw = raw[:len(raw)&^1]
		for i := 0; i < len(raw); i += 2 {
			if raw[i] == 0 && raw[i+1] == 0 {
				raw = raw[:i]
				break
			}
		}
		raw, _ = unicode.UTF16(order, unicode.UseBOM).NewDecoder().Bytes(raw)
	}
	if i := bytes.IndexByte(raw, 0); i >= 0 {
		raw = raw[:i]
	}
	return strings.TrimPrefix(strings.ToValidUTF8(plain(raw), "\ufffd"), "\ufeff")
}

// texts is a list of texts of any length, found by their offsets.
type texts struct {
	*stream
	inOrder bool // Offsets are not up to date: texts come in the order of the rows.
	next    uint64
	left    int64 // Bytes that may still be read: texts that overlap could be more than the file.
	buf     []byte
	off     uint64
	known   bool
}

func newTexts(s *stream, inOrder bool) *texts {
	return &texts{stream: s, inOrder: inOrder, left: 4*s.size + widestCell}
}

// skip passes over the text of a row that is marked as holding nothing.
func (t *texts) skip() {
	if t.inOrder {
		_, _ = t.at(0) // What cannot be read is missed when it is needed.
	}
}

// at is the text at an offset: 4 bytes of length and so many bytes.
func (t *texts) at(off uint64) ([]byte, error) {
	if t.inOrder {
		off = t.next
	}
	if t.known && t.off == off && !t.inOrder {
		return t.buf, nil
	}
	var head [4]byte
	if off > uint64(t.size) || t.size-int64(off) < 4 {
		return nil, harm("SD", t.first(), "a text at %d of its %d bytes", off, t.size)
	}
	if err := t.read(head[:], int64(off)); err != nil {
		return nil, err
	}
	n := int64(le.Uint32(head[:]))
	if n > t.size-int64(off)-4 {
		return nil, harm("SD", t.first(), "a text of %d bytes at %d of its %d bytes", n, off, t.size)
	}
	if t.left -= n; n > widestCell || t.left < 0 {
		return nil, harm("SD", t.first(), "a text of %d bytes at %d, more than %d are not read", n, off, widestCell)
	}
	if int64(cap(t.buf)) < n {
		t.buf = make([]byte, n)
	}
	t.buf, t.known, t.off, t.next = t.buf[:n], false, off, off+4+uint64(n)
	if err := t.read(t.buf, int64(off)+4); err != nil {
		return nil, err
	}
	t.known = true
	return t.buf, nil
}

func (t *texts) first() int64 {
	if len(t.parts) > 0 {
		return t.parts[0].at
	}
	return 0
}
