package publish

import (
	"context"
	"errors"
	"fmt"
	"time"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

// Form is what a publication is made of.
type Form string

// The forms.
const (
	Iceberg Form = "iceberg"
	Parquet Form = "parquet"
)

// Forms lists them, the default first.
func Forms() []Form { return []Form{Iceberg, Parquet} }

// Options say how to publish.
type Options struct {
	Form     Form
	Location string                // Where readers will find it, when that is not the destination itself.
	Stated   []Stated              // Tables of the lake's configuration, for plain Parquet.
	Keep     time.Duration         // How long superseded Iceberg snapshots stay readable.
	Env      func(string) string   // Names the store's address and keys.
	Now      func() time.Time      // Dates commits.
	Step     func(done, total int) // Told after every file; may be nil.
	Disk     disk.Disk             // What a folder is written on; zero is the system's.
}

// Report says what a publication holds and what was moved.
type Report struct {
	Snapshot int64 // Of the lake.
	URI      string
	Tables   []Moved
}

// Moved is one table of a report.
type Moved struct {
	Table               string
	Files, Rows, Bytes  int64  // That it holds now.
	Added, Copied, Gone int64  // Files that are new, their bytes that were moved, files that were taken out.
	Pointer             string // Where readers begin: the metadata file, or the pattern of its files.
}

// New reports whether anything changed.
func (r Report) New() bool {
	for _, t := range r.Tables {
		if t.Added > 0 || t.Gone > 0 {
			return true
		}
	}
	return false
}

// Run brings the destination to the lake's newest snapshot.
func Run(ctx context.Context, l *lake.Lake, dest string, o Options) (report Report, err error) {
	if o.Disk.Ops == nil {
		o.Disk = disk.OS()
	}
	s, err := store.OpenOn(dest, o.Env, o.Disk)
	if err != nil {
		return report, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err := apart(l.Root(), s); err != nil {
		return report, err
	}
	return run(ctx, l, s, o)
}

// run publishes into an open store.
func run(ctx context.Context, l *lake.Lake, s store.Store, o Options) (report Report, err error) {
	mark, err := claim(ctx, s, o)
	if err != nil {
		return report, fmt.Errorf("publish to %s: %w", s.URI(), err)
	}
	p := &publication{store: s, options: o, location: mark.Location}
	if o.Form == Parquet {
		report, err = p.parquet(ctx, l)
	} else {
		report, err = p.iceberg(ctx, l)
	}
	if errors.Is(err, store.ErrTaken) {
		err = fmt.Errorf("another process published there meanwhile: run publish again: %w", err)
	}
	if err != nil {
		return report, fmt.Errorf("publish to %s: %w", s.URI(), err)
	}
	return report, nil
}

// publication is one publish under way.
type publication struct {
	store    store.Store
	options  Options
	location string
	done     int
	total    int
}

// order lists the tables, runs last: a run that is seen has all of its rows.
func order() []schema.Table {
	var list, last []schema.Table
	for _, t := range schema.Tables() {
		if t.Name == "runs" {
			last = append(last, t)
			continue
		}
		list = append(list, t)
	}
	return append(list, last...)
}

// of refuses a publication of another lake, or of a newer snapshot than the lake's.
func of(s lake.State, id int64, name string) error {
	if id > s.ID {
		return fmt.Errorf("it holds snapshot %d and the lake is at %d: this lake is older than the one that was published; publish into an empty place", id, s.ID)
	}
	if known, ok := s.Known[id]; id > 0 && ok && known != name {
		return fmt.Errorf("its snapshot %d is not this lake's: another lake was published there; publish into an empty place", id)
	}
	return nil
}
