package mdf4

import (
	"bytes"
	"encoding/xml"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"dynolake/schema"
)

// note is what a TX or MD block says.
type note struct {
	text  string
	pairs [][2]string // The common properties in MD.
}

// note reads a TX or MD block; a link that is nil gives nothing.
func (f *file) note(at int64) (note, error) {
	if at == 0 {
		return note{}, nil
	}
	if n, ok := f.texts[at]; ok {
		return n, nil
	}
	b, err := f.block(at, 0, 0, "TX", "MD")
	if err != nil {
		return note{}, err
	}
	s := b.data
	if i := bytes.IndexByte(s, 0); i >= 0 {
		s = s[:i]
	} else {
		f.count(schema.Doubt, "text_without_end", "", 1, harm(b.id, at, "no zero ends it"), "%d names, units or comments may be cut")
	}
	n := note{text: plain(s)}
	if b.id == "MD" {
		n = marked(n.text)
	}
	f.texts[at] = n
	return n, nil
}

// label is a note's text; one that cannot be read is empty, and a doubt.
func (f *file) label(at int64, what, of string) (string, error) {
	n, err := f.note(at)
	if isDamage(err) {
		f.doubt("text_lost", of, "%s: the %s of %q is lost", err, what, of)
		return "", nil
	}
	return n.text, err
}

// plain is text as UTF-8. Bytes that are none are taken as Windows-1252, which some recorders write.
func plain(s []byte) string {
	if !utf8.Valid(s) {
		if t, err := charmap.Windows1252.NewDecoder().Bytes(s); err == nil {
			s = t
		}
	}
	return strings.TrimSpace(strings.TrimPrefix(string(s), "\ufeff"))
}

// marked reads XML: the first TX element's text, else all text there is, and the named properties.
func marked(s string) note {
	if !strings.Contains(s, "<") {
		return note{text: s}
	}
	d := xml.NewDecoder(strings.NewReader(s))
	d.Strict = false
	var n note
	var all, tx strings.Builder
	var name string
	inText, hadText, inProperty := false, false, false
	for {
		t, err := d.RawToken()
		if err != nil {
			break // The end, or damage: what was read before it counts.
		}
		switch t := t.(type) {
		case xml.StartElement:
			switch {
			case t.Name.Local == "TX" && !hadText:
				inText, hadText = true, true
			case t.Name.Local == "e" && len(t.Attr) > 0:
				inProperty, name = true, attribute(t, "name")
			}
		case xml.EndElement:
			inText = inText && t.Name.Local != "TX"
			inProperty = inProperty && t.Name.Local != "e"
		case xml.CharData:
			all.Write(t)
			if inText {
				tx.Write(t)
			}
			if v := strings.TrimSpace(string(t)); inProperty && name != "" && v != "" {
				n.pairs = append(n.pairs, [2]string{name, v})
			}
		}
	}
	n.text = strings.TrimSpace(tx.String())
	if !hadText && len(n.pairs) == 0 {
		n.text = strings.TrimSpace(all.String())
	}
	return n
}

func attribute(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
