package workbook

import (
	"context"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"
)

// shared gives the texts that cells refer to by number, read at the first call.
func (b *book) shared(ctx context.Context) ([]string, error) {
	b.loading.Lock()
	defer b.loading.Unlock()
	const part = "xl/sharedStrings.xml"
	f, ok := b.files[strings.ToLower(part)]
	if b.loaded || !ok {
		return b.texts, nil
	}
	if f.UncompressedSize64 > mostTexts {
		return nil, fmt.Errorf("%s: part %q unpacks to %d bytes: expected at most %d", b.name, part, f.UncompressedSize64, mostTexts)
	}
	var list []string
	err := b.each(ctx, part, func(d *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		text, err := textOf(d, "si")
		if err != nil {
			return b.damaged(part, err)
		}
		list = append(list, text)
		return nil
	})
	if err != nil {
		return nil, err
	}
	b.texts, b.loaded = list, true
	return list, nil
}

// textOf reads up to the end of an element and joins its t elements, save those that say how the text is pronounced.
func textOf(d *xml.Decoder, element string) (string, error) {
	var b strings.Builder
	inside, aside := false, false
	for {
		t, err := d.RawToken()
		if err != nil {
			return "", err
		}
		switch t := t.(type) {
		case xml.StartElement:
			inside = t.Name.Local == "t"
			aside = aside || t.Name.Local == "rPh"
		case xml.EndElement:
			inside = false
			switch t.Name.Local {
			case element:
				return unescape(b.String()), nil
			case "rPh":
				aside = false
			}
		case xml.CharData:
			if inside && !aside {
				b.Write(t)
			}
		}
	}
}

// unescape gives the characters that stand as _x000D_.
func unescape(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if i+7 <= len(s) && s[i:i+2] == "_x" && s[i+6] == '_' {
			if n, err := strconv.ParseUint(s[i+2:i+6], 16, 16); err == nil {
				b.WriteRune(rune(n))
				i += 6
				continue
			}
		}
		b.WriteByte(s[i])
	}
	return b.String()
}
