package workbook

import (
	"archive/zip"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"sync"

	"dynolake/schema"
)

// book is an open workbook.
type book struct {
	name     string
	files    map[string]*zip.File // By path in lower case.
	sheets   []sheet
	from1904 bool
	formats  []format // Of each cell style.

	loading sync.Mutex
	loaded  bool
	texts   []string // Shared by all sheets.
}

// sheet is one sheet of a book.
type sheet struct {
	name, path string
	hidden     bool
}

// open reads a workbook's directory and formats.
func open(ctx context.Context, src schema.Source) (*book, error) {
	at, size, err := src.OpenAt()
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", src.Name, err)
	}
	z, err := zip.NewReader(stopped{ctx, at}, size)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: read the workbook's directory: %w: the file is cut or damaged", src.Name, err), at.Close())
	}
	if err := bounded(src.Name, size, z); err != nil {
		return nil, errors.Join(err, at.Close())
	}
	b := &book{name: src.Name, files: map[string]*zip.File{}}
	for _, f := range z.File {
		b.files[strings.ToLower(strings.ReplaceAll(f.Name, `\`, "/"))] = f
	}
	if err := errors.Join(b.list(ctx), b.styles(ctx)); err != nil {
		return nil, errors.Join(err, at.Close())
	}
	return b, nil
}

// stopped ends reading when the context does. What it reads stays open as long as a sheet may be read: it is memory, or a file
// that goes with the last reference to it.
type stopped struct {
	ctx context.Context
	io.ReaderAt
}

func (s stopped) ReadAt(p []byte, off int64) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.ReaderAt.ReadAt(p, off)
}

// part opens one file of the book.
func (b *book) part(name string) (io.ReadCloser, error) {
	f, ok := b.files[strings.ToLower(strings.TrimPrefix(name, "/"))]
	if !ok {
		return nil, fmt.Errorf("%s: the workbook has no part %q", b.name, name)
	}
	r, err := f.Open()
	if err != nil {
		return nil, b.damaged(name, err)
	}
	return r, nil
}

func (b *book) damaged(part string, err error) error {
	return fmt.Errorf("%s: read part %q: %w: the workbook is damaged", b.name, part, err)
}

// each calls do for every element of a part that begins.
func (b *book) each(ctx context.Context, part string, do func(d *xml.Decoder, e xml.StartElement) error) (err error) {
	r, err := b.part(part)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	d := xml.NewDecoder(r)
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		t, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return b.damaged(part, err)
		}
		if e, ok := t.(xml.StartElement); ok {
			if err := do(d, e); err != nil {
				return err
			}
		}
	}
}

// attr is an attribute's text; "" where it is not there.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// list finds the sheets, in the order of their tabs.
func (b *book) list(ctx context.Context) error {
	main := "xl/workbook.xml"
	if _, ok := b.files["_rels/.rels"]; ok {
		err := b.each(ctx, "_rels/.rels", func(_ *xml.Decoder, e xml.StartElement) error {
			if e.Name.Local == "Relationship" && strings.HasSuffix(attr(e, "Type"), "/officeDocument") {
				main = strings.TrimPrefix(attr(e, "Target"), "/")
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	if strings.HasSuffix(main, ".bin") {
		return fmt.Errorf("%s: the workbook is of the binary kind (%s): save it as .xlsx", b.name, main)
	}
	if _, ok := b.files[strings.ToLower(main)]; !ok || !strings.HasPrefix(strings.ToLower(main), "xl/") {
		return fmt.Errorf("%s: the office document holds no workbook (its main part is %q): expected xl/workbook.xml", b.name, main)
	}
	targets := map[string]string{}
	err := b.each(ctx, path.Dir(main)+"/_rels/"+path.Base(main)+".rels", func(_ *xml.Decoder, e xml.StartElement) error {
		if e.Name.Local == "Relationship" && strings.HasSuffix(attr(e, "Type"), "/worksheet") {
			targets[attr(e, "Id")] = within(path.Dir(main), attr(e, "Target"))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return b.each(ctx, main, func(_ *xml.Decoder, e xml.StartElement) error {
		switch e.Name.Local {
		case "workbookPr":
			v := attr(e, "date1904")
			b.from1904 = v == "1" || v == "true"
		case "sheet":
			if target, ok := targets[attr(e, "id")]; ok {
				state := attr(e, "state")
				b.sheets = append(b.sheets, sheet{name: attr(e, "name"), path: target, hidden: state == "hidden" || state == "veryHidden"})
			}
		}
		return nil
	})
}

// within is a target as the parts beside it name it.
func within(dir, target string) string {
	if strings.HasPrefix(target, "/") {
		return strings.TrimPrefix(target, "/")
	}
	return path.Join(dir, target)
}
