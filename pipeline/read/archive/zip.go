package archive

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path"
	"strconv"
	"strings"

	"golang.org/x/text/encoding/charmap"

	"dynolake/schema"
)

// Zip opens .zip archives. Its zero value is ready.
type Zip struct{}

var _ schema.Container = Zip{}
var _ schema.Random = Zip{}

// Form is the name of the form.
func (Zip) Form() string { return "zip" }

// Random says that an archive is read in any order.
func (Zip) Random() {}

// Probe looks for the magic bytes.
func (Zip) Probe(head []byte) schema.Fit {
	if fit := magic(head, "PK\x05\x06", "an empty zip (magic PK 05 06)"); fit.Score > 0 {
		return fit
	}
	fit := magic(head, "PK\x03\x04", "zip (magic PK 03 04)")
	fit.Score = fit.Score * 9 / 10 // Other forms are zip archives, too.
	return fit
}

// Members lists the files of the archive, in the order of its directory.
func (Zip) Members(ctx context.Context, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	at, size, err := src.OpenAt()
	if err != nil {
		return nil, nil, fmt.Errorf("open %s: %w", src.Name, err)
	}
	z, err := zip.NewReader(at, size)
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("%s: read the archive's directory: %w: the file is cut or damaged", src.Name, err), at.Close())
	}
	if err := bounded(src.Name, size, z); err != nil {
		return nil, nil, errors.Join(err, at.Close())
	}
	var list []schema.Source
	var found []schema.Finding
	taken := map[string]bool{}
	for _, f := range z.File {
		name := harmless(f)
		if skipped(f, name) {
			continue
		}
		if taken[name] {
			twin := again(name, taken)
			found = append(found, finding(src.Name, fmt.Sprintf("two members are named %q: the second is called %q", name, twin)))
			name = twin
		}
		taken[name] = true
		list = append(list, member(ctx, src.Name+"/"+name, f))
	}
	if len(list) == 0 {
		return nil, nil, errors.Join(fmt.Errorf("%s: the archive holds no file", src.Name), at.Close())
	}
	return list, found, nil // The archive stays open for them: memory, or a file that goes with the last reference to it.
}

func finding(source, text string) schema.Finding {
	nan := math.NaN()
	return schema.Finding{Source: source, Severity: schema.Note, Code: "member_renamed", Text: text, Value: nan, T0S: nan, T1S: nan}
}

func bounded(name string, size int64, z *zip.Reader) error {
	if n := len(z.File); n > mostMembers {
		return fmt.Errorf("%s: the archive holds %d members: expected at most %d", name, n, mostMembers)
	}
	total := uint64(0)
	for _, f := range z.File {
		if f.UncompressedSize64 > math.MaxInt64/mostMembers {
			return fmt.Errorf("%s: member %q claims to unpack to %d bytes", name, f.Name, f.UncompressedSize64)
		}
		total += f.UncompressedSize64
	}
	if most := uint64(allowed(size)); total > most {
		return fmt.Errorf("%s: the archive of %d bytes unpacks to %d: expected at most %d: it is refused as made to fill a disk", name, size, total, most)
	}
	return nil
}

// harmless is a member's name below the archive, whatever it says.
func harmless(f *zip.File) string {
	name := f.Name
	if f.NonUTF8 {
		if text, err := charmap.CodePage437.NewDecoder().String(name); err == nil { // What the form says of names that are not said to be UTF-8.
			name = text
		}
	}
	name = strings.ToValidUTF8(strings.ReplaceAll(strings.ReplaceAll(name, `\`, "/"), "\x00", ""), "\uFFFD")
	if len(name) > 1 && name[1] == ':' {
		name = name[2:]
	}
	return strings.TrimPrefix(path.Clean("/"+name), "/")
}

// skipped reports whether a member is no file, or one that an archiver adds.
func skipped(f *zip.File, name string) bool {
	mode := f.Mode()
	if name == "" || strings.HasSuffix(f.Name, "/") || mode.IsDir() || mode&fs.ModeSymlink != 0 || !mode.IsRegular() {
		return true
	}
	for _, p := range strings.Split(name, "/") {
		if p == "__MACOSX" || strings.HasPrefix(p, ".") {
			return true
		}
	}
	return false
}

func again(name string, taken map[string]bool) string {
	for n := 2; ; n++ {
		if twin := name + "~" + strconv.Itoa(n); !taken[twin] {
			return twin
		}
	}
}

func member(ctx context.Context, name string, f *zip.File) schema.Source {
	refuse := func(format string, args ...any) schema.Source {
		return schema.Source{Name: name, Size: -1, Open: func() (io.ReadCloser, error) { return nil, fmt.Errorf(format, args...) }}
	}
	switch {
	case f.Flags&1 != 0:
		return refuse("the member is encrypted: unpack it and give the file itself")
	case f.Method != zip.Store && f.Method != zip.Deflate:
		return refuse("the member is packed by method %d: expected 0 (stored) or 8 (deflate): unpack it and give the file itself", f.Method)
	}
	return schema.Source{Name: name, Size: int64(f.UncompressedSize64), Open: func() (io.ReadCloser, error) {
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("unpack: %w: the archive is damaged", err)
		}
		packed := int64(f.CompressedSize64)
		return &unpacking{ctx: ctx, name: name, from: r, packed: func() int64 { return packed }, close: r.Close}, nil
	}}
}
