package pipeline

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"dynolake/pipeline/read"
	"dynolake/schema"
)

// whole is the name of the file that a member is, or is in.
func (m member) whole() string {
	name := m.Source
	if m.At != "" {
		name = strings.TrimSuffix(name, "#"+m.At)
	}
	if m.In != "" {
		name = strings.TrimSuffix(name, "/"+m.In)
	}
	return name
}

// holds reports whether a log of that name comes from the member: the member itself or a sheet of it.
func (m member) holds(source string) bool {
	return source == m.Source || strings.HasPrefix(source, m.Source+"#")
}

// logs reads a member, part by part: one log a part, and where it is a workbook one for each sheet. Sheets without a clock are
// kept as notes.
func (s *shelf) logs(ctx context.Context, m member, open func() (io.ReadCloser, error)) ([][]schema.Log, error) {
	src, found, err := s.leaf(ctx, m, schema.Source{Name: m.whole(), Size: m.Bytes, Open: open})
	if err != nil {
		return nil, err
	}
	sheets, more, err := read.Sheets(ctx, src, m.At != "")
	if err != nil {
		return nil, err
	}
	if m.At != "" {
		if sheets, err = named(sheets, src.Name, m.At); err != nil {
			return nil, err
		}
		more = nil
	}
	parts, err := s.readSheets(ctx, m, src, sheets)
	if err != nil {
		return nil, err
	}
	first := &parts[0][0]
	first.Findings = append(first.Findings, append(found, more...)...)
	return parts, nil
}

// named picks the sheet that a run sheet names.
func named(sheets []schema.Source, book, name string) ([]schema.Source, error) {
	var names []string
	for _, s := range sheets {
		have, ok := strings.CutPrefix(s.Name, book+"#")
		if !ok {
			return nil, fmt.Errorf("%s: found no sheet %q: it is no workbook", book, name)
		}
		if strings.EqualFold(strings.TrimSpace(have), strings.TrimSpace(name)) {
			return []schema.Source{s}, nil
		}
		names = append(names, have)
	}
	return nil, fmt.Errorf("%s: found no sheet %q that holds anything: the workbook has %.20q", book, name, names)
}

// readSheets reads the sheets of one source, or the source itself where it has none.
func (s *shelf) readSheets(ctx context.Context, m member, src schema.Source, sheets []schema.Source) ([][]schema.Log, error) {
	var parts [][]schema.Log
	var notes []schema.Source
	var reasons []string
	for _, one := range sheets {
		logs, err := s.readOne(ctx, m, one)
		var none *read.NoFormError
		switch {
		case err == nil:
			parts = laid(parts, logs, one.Via)
		case one.Via != "" && errors.As(err, &none):
			notes = append(notes, one)
			reasons = append(reasons, reason(none))
		default:
			return nil, err
		}
	}
	if len(parts) == 0 {
		return nil, fmt.Errorf("%s: no sheet of the workbook is a log: %s", src.Name, byReason(src.Name, notes, reasons))
	}
	first := &parts[0][0]
	for _, one := range notes {
		text, err := note(ctx, one)
		if err != nil {
			return nil, err
		}
		f := remark(schema.Note, "sheet_kept_as_note", math.NaN(), "", "the sheet has no clock and is kept as a note: %s", text)
		f.Source = one.Name
		first.Notes = append(first.Notes, [2]string{strings.TrimPrefix(one.Name, src.Name+"#"), text})
		first.Findings = append(first.Findings, f)
	}
	return parts, nil
}

// laid puts each part of a source's logs beside those of the others.
func laid(parts [][]schema.Log, logs []schema.Log, form string) [][]schema.Log {
	for i, l := range logs {
		if form != "" {
			l.Form = form
		}
		if i == len(parts) {
			parts = append(parts, nil)
		}
		parts[i] = append(parts[i], l)
	}
	return parts
}

// byReason says why each sheet is no log, sheets with the same reason together.
func byReason(book string, sheets []schema.Source, reasons []string) string {
	var parts []string
	for i, r := range reasons {
		if slices.Contains(reasons[:i], r) {
			continue
		}
		var names []string
		for k, s := range sheets {
			if reasons[k] == r {
				names = append(names, strings.TrimPrefix(s.Name, book+"#"))
			}
		}
		parts = append(parts, strings.Join(names, ", ")+" ("+r+")")
	}
	return strings.Join(parts, "; ")
}

// longestReason is how many bytes of the reason against one sheet are told where there are several.
const longestReason = 160

// reason is why a sheet is no table that a log could be.
func reason(none *read.NoFormError) string {
	for _, r := range none.Reasons {
		if r.Form == "delimited" {
			if len(r.Why) > longestReason {
				return strings.ToValidUTF8(r.Why[:longestReason], "") + " …"
			}
			return r.Why
		}
	}
	return none.Error()
}

// longestNote is how many bytes of a sheet without a clock are kept beside the run; all of it is in the archive.
const longestNote = 4000

// note gives the beginning of a sheet's text, a line a row.
func note(ctx context.Context, src schema.Source) (string, error) {
	f, err := src.Open()
	if err != nil {
		return "", err
	}
	data, err := io.ReadAll(stoppable{ctx, io.LimitReader(f, 64<<10)})
	if err := errors.Join(err, f.Close()); err != nil {
		return "", err
	}
	var lines []string
	for line := range strings.Lines(string(data)) {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			lines = append(lines, line)
		}
	}
	text := strings.Join(lines, "\n")
	if len(text) > longestNote {
		text = strings.ToValidUTF8(text[:longestNote], "") + " …"
	}
	return text, nil
}
