package sheet

import (
	"cmp"
	"context"
	"maps"
	"path/filepath"
	"slices"

	"dynolake/schema"
)

// File is one log of a run.
type File struct {
	Path   string // To be opened.
	Name   string // As given: relative to the folder that the user named, or as the sheet has it.
	Member string // A sheet of a workbook (book.xlsx#Sheet) or a file within an archive (a.zip/b.csv); empty for the whole.
	key    string // The absolute path.
}

// Spec is one run to be ingested.
type Spec struct {
	Files    []File
	Sheet    schema.Sheet // Empty() where no sheet applies. Files are as written there.
	Rank     int          // How near the sheet is to the log, 0 nearest; -1 without a sheet.
	Findings []schema.Finding
	Missing  []string // Of a waiting entry: the files that are not there, as they would be named.
	From     string   // The sheet's path; empty without one.
}

// Found is what the named paths hold.
type Found struct {
	Runs     []Spec           // In the order of their first file's path.
	Refused  []Spec           // Entries with a fault, set aside with their files.
	Findings []schema.Finding // Of severity rejected: why an entry was set aside, and paths and sheets of which nothing could be used.
	Skipped  []string         // What named folders hold that is plainly no log: other files, lakes.
	Waiting  []Spec           // Entries that name files which are not there yet, with those that are; only with Options.Wait.
	Sheets   []string         // The sheets that lie in what was named.
}

// Options narrows a search.
type Options struct {
	Leave []string // Folders and files that are not looked into.
	Wait  bool     // Sheets speak of what lies in the named folders alone; an entry that names more waits for it.

	Lake func(dir string) bool  // Whether a folder below a named one is a lake, which is passed over; nil for none.
	Owns func(path string) bool // Whether a named path is a lake's own, which holds no logs but what was made of them; nil for none.
}

// parents is how many folders above a log may hold its runs.csv.
const parents = 4

// Find gives the runs that the named files and folders hold. Folders are searched all the way down, in the order of names. An
// error means that the context was cancelled.
func Find(ctx context.Context, paths []string, o Options) (Found, error) {
	s := scope{options: o, leave: map[string]bool{}, wait: o.Wait, logs: map[string]File{}, sheets: map[string]string{}}
	for _, l := range o.Leave {
		s.leave[absolute(l)] = true
	}
	for _, p := range paths {
		if err := s.add(ctx, p); err != nil {
			return Found{}, err
		}
	}
	b := book{scope: &s, listed: map[string][]string{}}
	rows, err := b.rows(ctx)
	if err != nil {
		return Found{}, err
	}
	c := newClaims(rows)
	for _, r := range rows {
		c.take(r)
	}
	found := Found{Findings: s.problems, Skipped: s.skipped, Sheets: slices.Sorted(maps.Values(s.sheets))}
	for _, r := range c.order {
		if len(r.faults) == 0 && len(r.files) == 0 && len(r.missing) == 0 {
			continue // Another entry has all of its files.
		}
		spec := Spec{Files: r.files, Sheet: r.sheet, Rank: r.rank, Findings: r.findings, Missing: r.missing, From: r.at.File}
		if len(r.faults) == 0 && len(r.missing) > 0 {
			found.Waiting = append(found.Waiting, spec)
			continue
		}
		if len(r.faults) == 0 {
			found.Runs = append(found.Runs, spec)
			continue
		}
		for _, f := range r.faults {
			why := finding(r.at.File, schema.Rejected, "run_sheet_rejected", "", f.Error())
			spec.Findings, found.Findings = append(spec.Findings, why), append(found.Findings, why)
		}
		found.Refused = append(found.Refused, spec)
	}
	for path, f := range s.logs {
		if len(c.owners[path]) == 0 {
			found.Runs = append(found.Runs, Spec{Files: []File{f}, Sheet: Empty(), Rank: -1})
		}
	}
	slices.SortFunc(found.Runs, byFirst)
	return found, nil
}

func byFirst(a, b Spec) int {
	return cmp.Or(cmp.Compare(a.Files[0].Path, b.Files[0].Path), cmp.Compare(a.Files[0].Member, b.Files[0].Member))
}

func absolute(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		return abs
	}
	return filepath.Clean(path)
}
