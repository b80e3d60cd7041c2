package pipeline

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"dynolake/pipeline/inbox"
	"dynolake/pipeline/lake"
	"dynolake/pipeline/sheet"
)

// taking is one emptying of the inbox.
type taking struct {
	*ingest
	seen    inbox.Seen
	found   sheet.Found
	waiting []sheet.Spec // Entries that wait for logs to come.
	stored  map[string]bool
}

// TakeIn ingests what lies in the inbox and clears it: what the lake has for good is removed, what cannot be used goes into the
// inbox's folder refused with the reason beside it. What is still being written waits, and so does what a run sheet names together with
// a file that has not come; an outcome of the status waiting says for what. Runs that depend on an edited entry are made again, as
// by Ingest. On an error nothing is cleared: the next time finds what was committed unchanged.
func TakeIn(ctx context.Context, l *lake.Lake, w *lake.Writer, r *Recipe, dir string, opts Options) (Result, error) {
	in, err := newIngest(ctx, l, w, r, opts)
	if err != nil {
		return Result{}, err
	}
	gap := opts.Gap
	if gap == 0 {
		gap = time.Second
	}
	t := taking{ingest: in}
	if t.seen, err = inbox.Look(ctx, dir, gap); err != nil {
		return Result{}, err
	}
	if len(t.seen.Files) > 0 {
		if t.found, err = sheet.Find(ctx, []string{t.seen.Dir}, sheet.Options{Leave: t.seen.Leave(), Wait: true}); err != nil {
			return Result{}, err
		}
	}
	if in.sheets, err = t.keepSheets(ctx); err != nil {
		return Result{}, err
	}
	late, err := t.late()
	if err == nil {
		err = in.all(ctx, t.found, late)
	}
	if err == nil {
		err = t.clear(ctx)
	}
	return in.result, err
}

// keepSheets archives the run sheets, for they leave the inbox too, and gives their SHA-256 by their path.
func (t *taking) keepSheets(ctx context.Context) (map[string]string, error) {
	kept := map[string]string{}
	for _, path := range t.found.Sheets {
		f, err := os.Open(path)
		if err != nil {
			continue // Why it cannot be read is among the findings.
		}
		b, err := t.writer.Archive(ctx, f)
		if err := errors.Join(err, f.Close()); err != nil {
			return nil, fmt.Errorf("archive the run sheet %s: %w", path, err)
		}
		kept[path] = b.SHA256
	}
	return kept, nil
}

// clear removes what the lake has, refuses what it cannot use and tells what waits.
func (t *taking) clear(ctx context.Context) error {
	now, err := t.lake.Fingerprints(ctx)
	if err != nil {
		return err
	}
	t.stored = map[string]bool{}
	for id, fingerprint := range now {
		d, err := t.standing(ctx, id, fingerprint)
		if err != nil {
			return err
		}
		for _, m := range d.Members {
			t.stored[m.key()], t.stored[m.book()] = true, true
		}
	}
	var errs []error
	for _, f := range t.seen.Files { // Sheets come last: what becomes of them hangs on their logs.
		if !slices.Contains(t.found.Sheets, f.Path) {
			errs = append(errs, t.settleFile(f))
		}
	}
	for _, f := range t.seen.Files {
		if slices.Contains(t.found.Sheets, f.Path) {
			errs = append(errs, t.settleSheet(f))
		}
	}
	return errors.Join(errs...)
}

// standing gives what a run of the lake depends on: as it was at the beginning, where it is the same run.
func (t *taking) standing(ctx context.Context, id, fingerprint string) (depends, error) {
	if t.known[id].Fingerprint == fingerprint {
		return t.brief(id)
	}
	k, _, err := t.lake.Run(ctx, id)
	if err != nil {
		return depends{}, err
	}
	return readBrief(k.Depends)
}

// settleFile removes, refuses or leaves one file.
func (t *taking) settleFile(f inbox.File) error {
	switch {
	case f.State == inbox.Barred:
		t.tell(Outcome{Status: "set aside", Source: f.Name, Reason: f.Why})
		return t.refuseFile(f, f.Why)
	case f.State == inbox.Waiting:
		t.wait(f.Name, f.Why)
		return nil
	case t.has(f.Path):
		return t.cleared(f, t.seen.Take(t.lake.Disk(), f.Path))
	}
	if why, ok := t.whyNot(f); ok {
		return t.refuseFile(f, why)
	}
	for _, spec := range t.waiting {
		if slices.ContainsFunc(spec.Files, func(s sheet.File) bool { return s.Path == f.Path }) {
			t.wait(f.Name, fmt.Sprintf("%s names it together with %s, which has not come", spec.From, strings.Join(spec.Missing, ", ")))
		}
	}
	return nil
}

// has reports whether the lake has one of a file's sources in a run.
func (t *taking) has(path string) bool {
	return slices.ContainsFunc(t.keys[path], func(key string) bool { return t.stored[key] && t.result.refused[key] == "" })
}

// whyNot tells why a file gave no rows, if it gave none.
func (t *taking) whyNot(f inbox.File) (string, bool) {
	for _, key := range t.keys[f.Path] {
		if why := t.result.refused[key]; why != "" {
			return why, true
		}
	}
	for _, o := range t.result.Outcomes {
		if o.Status == "set aside" && (o.Source == f.Name || o.Source == f.Path) && !strings.HasSuffix(o.Reason, errChanging.Error()) {
			return o.Reason, true
		}
	}
	return "", false
}

// settleSheet clears a run sheet all of whose logs have been dealt with.
func (t *taking) settleSheet(f inbox.File) error {
	var waits, refused []string
	for _, spec := range t.waiting {
		if spec.From == f.Path {
			waits = append(waits, spec.Missing...)
		}
	}
	if len(waits) > 0 {
		t.wait(f.Name, fmt.Sprintf("it names %s, which has not come", strings.Join(waits, ", ")))
		return nil
	}
	for _, o := range t.found.Findings {
		if o.Source == f.Path {
			refused = append(refused, o.Text)
		}
	}
	for _, spec := range t.found.Runs {
		for _, log := range spec.Files {
			if spec.From == f.Path && !t.has(log.Path) {
				refused = append(refused, log.Name+", which it names, was refused")
			}
		}
	}
	if len(refused) > 0 {
		return t.refuseFile(f, strings.Join(slices.Compact(refused), "\n"))
	}
	return t.cleared(f, t.seen.Take(t.lake.Disk(), f.Path))
}

func (t *taking) refuseFile(f inbox.File, why string) error {
	return t.cleared(f, t.seen.Refuse(t.lake.Disk(), f.Path, why))
}

// cleared tells of a file that was changed or taken away meanwhile, which is no error.
func (t *taking) cleared(f inbox.File, err error) error {
	switch {
	case errors.Is(err, inbox.ErrChanged):
		t.wait(f.Name, inbox.ErrChanged.Error())
		return nil
	case errors.Is(err, fs.ErrNotExist):
		return nil
	}
	return err
}

func (t *taking) wait(name, why string) {
	t.tell(Outcome{Status: "waiting", Source: name, Reason: why})
}
