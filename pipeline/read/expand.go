package read

import (
	"context"
	"fmt"
	"io"

	"dynolake/pipeline/read/archive"
	"dynolake/pipeline/read/workbook"
	"dynolake/schema"
)

// deepest is how many archives may lie within one another.
const deepest = 3

// archives lists the forms that pack files as they are.
func archives() []schema.Container {
	return []schema.Container{archive.Gzip{}, archive.Zstd{}, archive.Zip{}}
}

// Unpack gives the files that a source packs, archives within archives included, by content. A source that is no archive is the
// only one. A member that cannot be unpacked says so when it is opened.
func Unpack(ctx context.Context, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	return unpack(ctx, src, 0)
}

func unpack(ctx context.Context, src schema.Source, depth int) ([]schema.Source, []schema.Finding, error) {
	head, err := probe(ctx, src)
	if err != nil && ctx.Err() == nil && depth > 0 {
		return []schema.Source{src}, nil, nil // It says why when it is opened.
	}
	if err != nil {
		return nil, nil, err
	}
	c := container(head, append(archives(), workbook.Reader{}))
	if c == nil || c.Form() == (workbook.Reader{}).Form() {
		return []schema.Source{src}, nil, nil
	}
	if depth == deepest {
		return nil, nil, fmt.Errorf("%s: archives lie within one another more than %d deep", src.Name, deepest)
	}
	members, found, err := list(ctx, c, src)
	if err != nil {
		return nil, found, err
	}
	var leaves []schema.Source
	for _, m := range members {
		inner, more, err := unpack(ctx, m, depth+1)
		found = append(found, more...)
		switch {
		case ctx.Err() != nil:
			return nil, nil, ctx.Err()
		case err == nil:
			leaves = append(leaves, inner...)
		case len(members) == 1:
			return nil, found, err
		default:
			leaves = append(leaves, failed(m, err))
		}
	}
	return leaves, found, nil
}

// Sheets gives the sheets of a workbook that hold something, hidden ones too when asked for. Any other source is the only one.
func Sheets(ctx context.Context, src schema.Source, hidden bool) ([]schema.Source, []schema.Finding, error) {
	head, err := probe(ctx, src)
	if err != nil {
		return nil, nil, err
	}
	book := workbook.Reader{Hidden: hidden}
	if c := container(head, append(archives(), book)); c == nil || c.Form() != book.Form() {
		return []schema.Source{src}, nil, nil
	}
	return list(ctx, book, src)
}

// Expand gives every log that a source holds: the members of archives, the sheets of workbooks, by content. What was left out is
// a finding; a member or workbook that cannot be read says so when it is opened.
func Expand(ctx context.Context, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	leaves, found, err := Unpack(ctx, src)
	if err != nil {
		return nil, found, err
	}
	var all []schema.Source
	for _, leaf := range leaves {
		sheets, more, err := Sheets(ctx, leaf, false)
		found = append(found, more...)
		switch {
		case ctx.Err() != nil:
			return nil, nil, ctx.Err()
		case err == nil:
			all = append(all, sheets...)
		case len(leaves) == 1:
			return nil, found, err
		default:
			all = append(all, failed(leaf, err))
		}
	}
	return all, found, nil
}

// container finds the form that fits best, nil where none does.
func container(head []byte, forms []schema.Container) schema.Container {
	var best schema.Container
	score := 0
	for _, c := range forms {
		if fit := c.Probe(head); fit.Score > score {
			best, score = c, fit.Score
		}
	}
	return best
}

func list(ctx context.Context, c schema.Container, src schema.Source) ([]schema.Source, []schema.Finding, error) {
	if _, ok := c.(schema.Random); ok {
		spooled, err := spool(ctx, src)
		if err != nil {
			return nil, nil, err
		}
		src = spooled
	}
	return c.Members(ctx, src)
}

func failed(src schema.Source, err error) schema.Source {
	src.Open = func() (io.ReadCloser, error) { return nil, err }
	return src
}

// Packed reports whether a source is an archive, by content.
func Packed(ctx context.Context, src schema.Source) (bool, error) {
	head, err := probe(ctx, src)
	if err != nil {
		return false, err
	}
	c := container(head, append(archives(), workbook.Reader{}))
	return c != nil && c.Form() != (workbook.Reader{}).Form(), nil
}
