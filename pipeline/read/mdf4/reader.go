package mdf4

import (
	"context"
	"errors"
	"fmt"
	"io"

	"dynolake/schema"
)

// Reader reads MDF 4. Its zero value is ready; it holds no state between files.
type Reader struct{}

var _ schema.Reader = Reader{}

// Form is the name of the form.
func (Reader) Form() string { return "mdf4" }

// Probe looks for the identification at the file's beginning.
func (Reader) Probe(head []byte) schema.Fit {
	id, err := identify(head)
	switch {
	case id.mark == "":
		return schema.Fit{Why: err.Error()}
	case err != nil:
		return schema.Fit{Score: 100, Why: err.Error()} // The form is proven; reading says why it cannot be read.
	}
	return schema.Fit{Score: 100, Why: fmt.Sprintf("the identification %q, version %d.%02d", id.mark, id.version/100, id.version%100)}
}

// Read streams the source into the sink, as schema.Reader has it.
func (Reader) Read(ctx context.Context, src schema.Source, sink schema.Sink) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	s, err := open(ctx, src)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	head := make([]byte, min(64, s.size))
	if _, err := s.ReadAt(head, 0); err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("read %s: %w", src.Name, err)
	}
	id, err := identify(head)
	if err != nil {
		return fmt.Errorf("%s: %w", src.Name, err)
	}
	f := &file{report: newReport(src.Name, sink), ctx: ctx, at: s, size: s.size, version: id.version, unfinished: id.unfinished, seen: map[int64]bool{}, texts: map[int64]note{},
		known: map[convKey]converted{}, lists: map[int64]*stream{}, scratch: &scratch{}}
	defer func() { err = errors.Join(err, f.scratch.close()) }()
	if err := f.all(); err != nil {
		if ctx.Err() != nil {
			return err
		}
		return fmt.Errorf("%s: %w", src.Name, err)
	}
	return nil
}

// all reads the header, the index and then every table.
func (f *file) all() error {
	first, start, err := f.header()
	if err != nil {
		return err
	}
	if f.unfinished != 0 {
		f.doubt("unfinished_file", "", "the file is marked as unfinished (%#x): the recorder did not close it, and what is whole is read", f.unfinished)
	}
	groups, err := f.dataGroups(first)
	if err != nil {
		return err
	}
	e := &emitter{file: f, start: start}
	if err := e.tables(groups); err != nil {
		return err
	}
	if e.empty > 0 && e.rows > 0 {
		f.say("empty_groups", "", "%d channel groups hold no rows and are left out", e.empty)
	}
	f.close()
	if e.rows == 0 {
		return f.nothing(groups)
	}
	return nil
}

// nothing says why a file gave no rows.
func (f *file) nothing(groups []*dataGroup) error {
	all, clocks, empty := 0, 0, 0
	for _, d := range groups {
		for _, g := range d.groups {
			if g.vlsd() {
				continue
			}
			all++
			if g.clock != nil || g.remote != 0 {
				clocks++
				if g.cycles == 0 {
					empty++
				}
			}
		}
	}
	switch {
	case f.lost != nil:
		return fmt.Errorf("no rows can be read: %w", f.lost)
	case clocks == 0:
		return fmt.Errorf("a time channel is missing: none of the %d channel groups has a time master", all)
	case empty == clocks:
		return fmt.Errorf("no rows: the %d channel groups with a clock are empty", clocks)
	}
	return fmt.Errorf("no rows: none of the %d channel groups has a channel of numbers or texts with whole records", all)
}
