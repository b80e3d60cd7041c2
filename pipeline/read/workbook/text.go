package workbook

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

const (
	mostRows    = 1 << 20 // Of a sheet, by its form.
	mostColumns = 1 << 14
)

// text is a sheet as lines of cells parted by tabs.
type text struct {
	ctx    context.Context
	book   *book
	sheet  sheet
	from   io.ReadCloser
	xml    *xml.Decoder
	shared []string

	out   []byte // Not yet given.
	row   int    // Of the lines written.
	width int    // Of the widest row so far: shorter ones are filled up.
	done  error
}

func (b *book) text(ctx context.Context, s sheet) (io.ReadCloser, error) {
	shared, err := b.shared(ctx)
	if err != nil {
		return nil, err
	}
	from, err := b.part(s.path)
	if err != nil {
		return nil, err
	}
	return &text{ctx: ctx, book: b, sheet: s, from: from, xml: xml.NewDecoder(from), shared: shared}, nil
}

// Close ends the reading of the sheet.
func (t *text) Close() error {
	if err := t.from.Close(); err != nil {
		return t.book.damaged(t.sheet.path, err)
	}
	return nil
}

// Read gives the next bytes.
func (t *text) Read(p []byte) (int, error) {
	for len(t.out) == 0 && t.done == nil {
		t.out = t.out[:0]
		t.done = t.next()
	}
	if len(t.out) == 0 {
		return 0, t.done
	}
	n := copy(p, t.out)
	t.out = t.out[n:]
	return n, nil
}

// next writes the next row that holds something. The end of the rows is io.EOF.
func (t *text) next() error {
	if err := t.ctx.Err(); err != nil {
		return err
	}
	for {
		token, err := t.token()
		if errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF // The rows' end was not met.
		}
		if err != nil {
			return t.book.damaged(t.sheet.path, err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			if e.Name.Local == "row" {
				return t.line(e)
			}
		case xml.EndElement:
			if e.Name.Local == "sheetData" || e.Name.Local == "worksheet" {
				return t.rest()
			}
		}
	}
}

// rest reads the part to its end, so that its checksum is looked at.
func (t *text) rest() error {
	if _, err := io.Copy(io.Discard, stoppable{t.ctx, t.from}); err != nil {
		return t.book.damaged(t.sheet.path, err)
	}
	return io.EOF
}

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

func (t *text) token() (xml.Token, error) { return t.xml.RawToken() }

// line writes one row, and blank lines for those before it that hold nothing.
func (t *text) line(e xml.StartElement) error {
	number, err := strconv.Atoi(attr(e, "r"))
	if err != nil || number <= t.row {
		number = t.row + 1
	}
	cells, err := t.cells()
	if err != nil {
		return t.book.damaged(t.sheet.path, err)
	}
	for len(cells) > 0 && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) == 0 {
		return nil
	}
	if number > mostRows {
		return t.book.damaged(t.sheet.path, fmt.Errorf("row %d: expected at most %d", number, mostRows))
	}
	for ; t.row < number-1; t.row++ {
		t.out = append(t.out, '\n')
	}
	t.row = number
	t.width = max(t.width, len(cells))
	for i := range t.width {
		if i > 0 {
			t.out = append(t.out, '\t')
		}
		if i < len(cells) {
			t.out = append(t.out, cells[i]...)
		}
	}
	t.out = append(t.out, '\n')
	return nil
}

// cells reads up to the row's end.
func (t *text) cells() ([]string, error) {
	var list []string
	for {
		token, err := t.token()
		if err != nil {
			return nil, err
		}
		switch e := token.(type) {
		case xml.StartElement:
			if e.Name.Local != "c" {
				continue
			}
			at, ok := column(attr(e, "r"))
			if !ok {
				at = len(list)
			}
			if at >= mostColumns {
				return nil, fmt.Errorf("cell %q: expected at most %d columns", attr(e, "r"), mostColumns)
			}
			text, err := t.cell(e)
			if err != nil {
				return nil, err
			}
			if text == "" {
				continue
			}
			for len(list) <= at {
				list = append(list, "")
			}
			list[at] = text
		case xml.EndElement:
			if e.Name.Local == "row" {
				return list, nil
			}
		}
	}
}

// column is the index of a cell such as AB12.
func column(ref string) (int, bool) {
	n := 0
	for i, c := range []byte(ref) {
		switch {
		case c >= 'A' && c <= 'Z' && n < mostColumns:
			n = n*26 + int(c-'A') + 1
		case i > 0 && c >= '0' && c <= '9':
			return n - 1, true
		default:
			return 0, false
		}
	}
	return 0, false
}

// cell reads up to the cell's end and gives its text.
func (t *text) cell(e xml.StartElement) (string, error) {
	kind, style := attr(e, "t"), attr(e, "s")
	var value, formula, inline strings.Builder
	calculated, in := false, ""
	for {
		token, err := t.token()
		if err != nil {
			return "", err
		}
		switch x := token.(type) {
		case xml.StartElement:
			in = x.Name.Local
			calculated = calculated || in == "f"
			if in == "is" {
				text, err := textOf(t.xml, "is")
				if err != nil {
					return "", err
				}
				inline.WriteString(text)
			}
		case xml.EndElement:
			in = ""
			if x.Name.Local == "c" {
				if calculated && value.Len() == 0 && kind != "str" {
					return tidy("=" + formula.String()), nil
				}
				if kind == "inlineStr" {
					return tidy(inline.String()), nil
				}
				return t.shown(kind, style, value.String())
			}
		case xml.CharData:
			switch in {
			case "v":
				value.Write(x)
			case "f":
				formula.Write(x)
			}
		}
	}
}

// shown gives a cell's text by its type.
func (t *text) shown(kind, style, value string) (string, error) {
	switch kind {
	case "s":
		i, err := strconv.Atoi(strings.TrimSpace(value))
		if value == "" {
			return "", nil
		}
		if err != nil || i < 0 || i >= len(t.shared) {
			return "", fmt.Errorf("a cell names shared text %q of %d", value, len(t.shared))
		}
		return tidy(t.shared[i]), nil
	case "str":
		return tidy(unescape(value)), nil
	case "b", "e", "d":
		return tidy(value), nil
	}
	value = strings.TrimSpace(value)
	if s, err := strconv.Atoi(style); err == nil && s >= 0 && s < len(t.book.formats) && value != "" {
		return t.book.formats[s].show(value, t.book.from1904), nil
	}
	return tidy(value), nil
}

// tidy puts a text on one line, in quotes where it holds one.
func tidy(s string) string {
	s = strings.TrimSpace(s)
	if strings.ContainsAny(s, "\t\r\n\v\f\x00") {
		s = strings.Join(strings.Fields(strings.ReplaceAll(s, "\x00", " ")), " ")
	}
	if strings.Contains(s, `"`) {
		return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	return s
}
