package delimited

import (
	"bytes"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// encoding is how a file's bytes spell characters. UTF-8 and Windows-1252 share one path: numbers and delimiters are ASCII in
// both, so only names and texts are decoded, cell by cell.
type encoding struct {
	name  string
	utf16 unicode.Endianness
	wide  bool // UTF-16.
	bom   int  // Bytes of the mark to skip on the narrow path.
}

// sniff tells the encoding from the first bytes of a file.
func sniff(head []byte) encoding {
	switch {
	case bytes.HasPrefix(head, []byte("\xef\xbb\xbf")):
		return encoding{name: "UTF-8 with a byte-order mark", bom: 3}
	case bytes.HasPrefix(head, []byte("\xff\xfe")):
		return encoding{name: "UTF-16 little-endian", wide: true, utf16: unicode.LittleEndian}
	case bytes.HasPrefix(head, []byte("\xfe\xff")):
		return encoding{name: "UTF-16 big-endian", wide: true, utf16: unicode.BigEndian}
	}
	if e, ok := sniffNuls(head); ok {
		return e
	}
	if utf8.Valid(trimPartialRune(head)) {
		return encoding{name: "UTF-8"}
	}
	return encoding{name: "Windows-1252"}
}

// sniffNuls recognises UTF-16 without a mark: ASCII text has a zero in every second byte, always on the same side.
func sniffNuls(head []byte) (encoding, bool) {
	n := min(len(head), 4096) &^ 1
	var even, odd int
	for i := 0; i < n; i += 2 {
		if head[i] == 0 {
			even++
		}
		if head[i+1] == 0 {
			odd++
		}
	}
	switch pairs := n / 2; {
	case pairs < 2:
	case odd*10 >= pairs*8 && even*20 <= pairs:
		return encoding{name: "UTF-16 little-endian without a mark", wide: true, utf16: unicode.LittleEndian}, true
	case even*10 >= pairs*8 && odd*20 <= pairs:
		return encoding{name: "UTF-16 big-endian without a mark", wide: true, utf16: unicode.BigEndian}, true
	}
	return encoding{}, false
}

// trimPartialRune drops a rune that the end of a probe cuts.
func trimPartialRune(b []byte) []byte {
	for i := 1; i <= 3 && i <= len(b); i++ {
		if c := b[len(b)-i]; utf8.RuneStart(c) {
			if !utf8.FullRune(b[len(b)-i:]) {
				return b[:len(b)-i]
			}
			break
		}
	}
	return b
}

// reader gives the file's bytes with ASCII as single bytes and without a byte-order mark.
func (e encoding) reader(r io.Reader) io.Reader {
	if e.wide {
		return transform.NewReader(r, unicode.UTF16(e.utf16, unicode.UseBOM).NewDecoder())
	}
	return r
}

// decode is reader for bytes that are in memory.
func (e encoding) decode(head []byte) []byte {
	if e.wide {
		out, _, _ := transform.Bytes(unicode.UTF16(e.utf16, unicode.UseBOM).NewDecoder(), head[:len(head)&^1])
		return out
	}
	return head[e.bom:]
}

// text is a cell's bytes as a string: UTF-8 where they are valid UTF-8, else Windows-1252.
func text(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(b)
	if err != nil {
		return string(bytes.ToValidUTF8(b, []byte("\uFFFD")))
	}
	return string(out)
}
