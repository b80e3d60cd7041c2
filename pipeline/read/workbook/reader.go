package workbook

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"dynolake/schema"
)

const (
	smallUnpacked = 64 << 20 // A workbook may always unpack to this,
	mostRatio     = 100      // or to this many times its own size.
	mostTexts     = 256 << 20
)

// Reader lists a workbook's sheets. Its zero value is ready.
type Reader struct {
	Hidden bool // Hidden sheets are listed like the others.
}

var _ schema.Container = Reader{}
var _ schema.Random = Reader{}

// Form is the name of the form.
func (Reader) Form() string { return "workbook" }

// Random says that a workbook is read in any order.
func (Reader) Random() {}

// Probe looks for the parts of a workbook among the first files of a zip archive.
func (Reader) Probe(head []byte) schema.Fit {
	if !bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return schema.Fit{Why: "no zip archive (magic PK), which a workbook is"}
	}
	for _, name := range parts(head) {
		if strings.HasPrefix(strings.ToLower(name), "xl/") {
			return schema.Fit{Score: 100, Why: fmt.Sprintf("a zip archive that holds %q: a workbook", name)}
		}
		if name == "[Content_Types].xml" {
			return schema.Fit{Score: 96, Why: fmt.Sprintf("a zip archive that holds %q: an office document", name)}
		}
	}
	return schema.Fit{Why: "a zip archive without the parts of a workbook"}
}

// parts lists the names in a zip archive's first local headers, as far as they follow from one another.
func parts(head []byte) []string {
	var names []string
	for len(head) >= 30 && string(head[:4]) == "PK\x03\x04" {
		flags, method := binary.LittleEndian.Uint16(head[6:]), binary.LittleEndian.Uint16(head[8:])
		size := int(binary.LittleEndian.Uint32(head[18:]))
		name, extra := int(binary.LittleEndian.Uint16(head[26:])), int(binary.LittleEndian.Uint16(head[28:]))
		if len(head) < 30+name {
			break
		}
		names = append(names, strings.ReplaceAll(string(head[30:30+name]), `\`, "/"))
		next := 30 + name + extra
		switch {
		case flags&8 == 0:
			next += size
		case method == 0:
			return names // The stored bytes may hold headers of their own.
		case next < len(head):
			i := bytes.Index(head[next:], []byte("PK\x03\x04"))
			if i < 0 {
				return names
			}
			next += i
		}
		if next > len(head) || next < 0 {
			break
		}
		head = head[next:]
	}
	return names
}

// Members lists the sheets that hold something.
func (r Reader) Members(ctx context.Context, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	b, err := open(ctx, src)
	if err != nil {
		return nil, nil, err
	}
	var list []schema.Source
	var found []schema.Finding
	for _, s := range b.sheets {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		if s.hidden && !r.Hidden {
			found = append(found, finding(src.Name, schema.Note, "hidden_sheet", fmt.Sprintf(
				"sheet %q is hidden and was left out: name %s#%s in a run sheet to read it", s.name, src.Name, s.name)))
			continue
		}
		filled, err := b.filled(ctx, s)
		if err != nil {
			return nil, nil, err
		}
		if filled {
			list = append(list, schema.Source{Name: src.Name + "#" + s.name, Size: -1, Via: r.Form(), Open: func() (io.ReadCloser, error) { return b.text(ctx, s) }})
		}
	}
	if len(list) == 0 {
		return nil, found, fmt.Errorf("%s: no sheet of the workbook holds anything%s: expected a sheet with a table", src.Name, hiddenOnes(found))
	}
	return list, found, nil
}

func hiddenOnes(found []schema.Finding) string {
	if len(found) == 0 {
		return ""
	}
	return fmt.Sprintf(", save %d hidden", len(found))
}

func finding(source string, severity schema.Severity, code, text string) schema.Finding {
	nan := math.NaN()
	return schema.Finding{Source: source, Severity: severity, Code: code, Text: text, Value: nan, T0S: nan, T1S: nan}
}

// filled reports whether a sheet has a cell with something in it.
func (b *book) filled(ctx context.Context, s sheet) (bool, error) {
	t, err := b.text(ctx, s)
	if err != nil {
		return false, err
	}
	p := make([]byte, 1)
	n, err := io.ReadFull(t, p)
	if errors.Is(err, io.EOF) {
		err = nil
	}
	return n > 0, errors.Join(err, t.Close())
}

// bounded refuses a workbook that unpacks to more than it may.
func bounded(name string, size int64, z *zip.Reader) error {
	var total uint64
	for _, f := range z.File {
		if f.UncompressedSize64 > math.MaxInt64/2 || total > math.MaxInt64/2 {
			return fmt.Errorf("%s: %q claims to unpack to %d bytes", name, f.Name, f.UncompressedSize64)
		}
		total += f.UncompressedSize64
	}
	if most := max(smallUnpacked, uint64(size)*mostRatio); total > most {
		return fmt.Errorf("%s: the workbook of %d bytes unpacks to %d: expected at most %d, %d times its size", name, size, total, most, mostRatio)
	}
	return nil
}
