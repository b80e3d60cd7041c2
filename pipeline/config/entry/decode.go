package entry

import (
	"bytes"
	"fmt"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// Decode brings a small text file into UTF-8: with or without a byte order mark, UTF-16 either way (without a mark told by its zero
// bytes), and Windows-1252 where the bytes are no UTF-8.
func Decode(data []byte) (string, error) {
	if order, ok := utf16Order(data); ok {
		text, err := unicode.UTF16(order, unicode.UseBOM).NewDecoder().Bytes(data)
		if err != nil {
			return "", fmt.Errorf("read UTF-16 text: %w", err)
		}
		return string(text), nil
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if bytes.IndexByte(data, 0) >= 0 {
		return "", fmt.Errorf("found a zero byte at offset %d: want a text file", bytes.IndexByte(data, 0))
	}
	if utf8.Valid(data) {
		return string(data), nil
	}
	text, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", fmt.Errorf("read Windows-1252 text: %w", err)
	}
	return string(text), nil
}

// utf16Order tells UTF-16 by its mark or, without one, by every other byte of the beginning being mostly zero.
func utf16Order(data []byte) (unicode.Endianness, bool) {
	switch {
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}):
		return unicode.LittleEndian, true
	case bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return unicode.BigEndian, true
	}
	head := data[:min(len(data), 512)&^1]
	var even, odd int
	for i := 0; i < len(head); i += 2 {
		if head[i] == 0 {
			even++
		}
		if head[i+1] == 0 {
			odd++
		}
	}
	half := len(head) / 4
	if len(head) >= 8 && odd > half && even == 0 {
		return unicode.LittleEndian, true
	}
	return unicode.BigEndian, len(head) >= 8 && even > half && odd == 0
}
