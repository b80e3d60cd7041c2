package lake

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
)

// Checks says how much Verify reads.
type Checks struct {
	Quick bool // Look at names and sizes alone.
}

// Verify reads everything again and returns what is wrong: bytes against their checksums, every value of every file with
// another implementation of Parquet than wrote it, counts, and references between tables and to the archive. What an
// interrupted save left is a note. The error is for what kept Verify from looking.
func (l *Lake) Verify(ctx context.Context, opts Checks) ([]Problem, error) {
	v := &verifying{lake: l, ctx: ctx, quick: opts.Quick, runs: map[string]map[string]int64{}, claimed: map[string]int64{}, sources: map[string]string{},
		told: told{owners: map[string]ownerFact{}, names: map[int64]string{}}}
	for _, step := range []func() error{v.catalogue, v.files, v.references, v.facts, v.awaiting, v.archive, v.strangers} {
		if err := step(); err != nil {
			return v.problems, fmt.Errorf("verify: %w", err)
		}
	}
	return v.problems, nil
}

type verifying struct {
	lake     *Lake
	ctx      context.Context
	quick    bool
	problems []Problem
	runs     map[string]map[string]int64 // Rows by table and run, as counted.
	claimed  map[string]int64            // Rows of samples by run, as the runs table has it.
	sources  map[string]string           // A run by the SHA-256 of a source.
	blobs    map[string]Blob             // The archived bytes that the catalogue knows.
	told     told
}

func (v *verifying) find(path, cost, format string, args ...any) {
	v.problems = append(v.problems, Problem{Path: path, What: fmt.Sprintf(format, args...), Cost: cost})
}

// lose finds a fault of a live file.
func (v *verifying) lose(f fileFact, format string, args ...any) {
	if v.quick {
		f.Owners = v.owners(f.Path)
	}
	v.find(f.Path, cost(f), format, args...)
	v.problems[len(v.problems)-1].Lost = true
}

// owners names whose rows a live file holds: a quick look reads that where it is to be told. What cannot be read stays untold, the fault is said.
func (v *verifying) owners(path string) map[string]int64 {
	mark, named := map[string]bool{}, map[string]int64{}
	if err := v.lake.ownersOf(v.ctx, path, mark); err != nil {
		return named
	}
	for owner := range mark {
		named[owner] = 0
	}
	return named
}

func (v *verifying) note(path, what string) {
	v.problems = append(v.problems, Problem{Path: path, What: what, Note: true})
}

// catalogue asks the database whether it is whole. A quick look does not: reading all of it takes as long as looking at every file's name and size.
func (v *verifying) catalogue() error {
	if v.quick {
		return nil
	}
	return query(v.ctx, v.lake.db, func(r *sql.Rows) error {
		var text string
		if err := r.Scan(&text); err != nil {
			return err
		}
		if text != "ok" {
			v.find(catalogueName, "run dynolake verify --rebuild", "%s", text)
		}
		return nil
	}, `PRAGMA integrity_check`)
}

// files looks at every live file.
func (v *verifying) files() error {
	live, err := v.lake.live(v.ctx, !v.quick)
	if err != nil {
		return err
	}
	for _, path := range slices.Sorted(maps.Keys(live)) {
		if err := v.ctx.Err(); err != nil {
			return err
		}
		if err := v.file(live[path]); err != nil {
			return err
		}
	}
	return nil
}

func (v *verifying) file(f fileFact) error {
	full := filepath.Join(v.lake.root, f.Path)
	info, err := os.Stat(full)
	switch {
	case errors.Is(err, os.ErrNotExist):
		v.lose(f, "missing")
		return nil
	case err != nil:
		v.lose(f, "cannot be read: %v", err)
		return nil
	case info.Size() != f.Bytes:
		v.lose(f, "has %d bytes, want %d%s", info.Size(), f.Bytes, v.origin(f.Path))
		return nil
	case v.quick:
		return nil
	}
	sum, err := sumFile(v.ctx, full)
	if err != nil {
		if v.ctx.Err() != nil {
			return v.ctx.Err()
		}
		v.lose(f, "cannot be read: %v", err)
		return nil
	}
	if sum != f.SHA256 {
		v.lose(f, "has SHA-256 %s, want %s%s", sum, f.SHA256, v.origin(f.Path))
		return nil
	}
	r, err := reread(full, false)
	if err != nil {
		v.lose(f, "%v", err)
		return nil
	}
	v.compare(f, r)
	return nil
}

// origin says where the content of a wrong file comes from, when it is another file of a lake.
func (v *verifying) origin(path string) string {
	r, err := reread(filepath.Join(v.lake.root, path), true)
	if err != nil {
		return ""
	}
	var owners []string
	for _, o := range r.footer.Owners {
		owners = append(owners, o.Owner)
	}
	return fmt.Sprintf(" (it says that it is a file of %s with %s)", r.footer.Table, nameOwners(owners))
}

// compare holds a file's content against the catalogue.
func (v *verifying) compare(f fileFact, r *reading) {
	for _, what := range r.faults {
		v.lose(f, "%s", what)
	}
	if r.footer.Table != f.Table {
		v.lose(f, "is a file of %q, want %q", r.footer.Table, f.Table)
	}
	if n := r.footer.Commit.Number; n != f.Added {
		v.find(catalogueName, anew, "says that %s is of commit %d, and the file says %d", f.Path, f.Added, n)
	}
	if month := monthOf(f.Path); month != f.Month {
		v.find(catalogueName, anew, "says that %s is of month %q, want %q", f.Path, f.Month, month)
	}
	v.told.take(r.footer)
	if r.rows != f.Rows {
		v.lose(f, "has %d rows, want %d", r.rows, f.Rows)
	}
	if !maps.Equal(r.owners, f.Owners) {
		v.lose(f, "has rows %v, want %v", r.owners, f.Owners)
	}
	if v.runs[f.Table] == nil {
		v.runs[f.Table] = map[string]int64{}
	}
	for owner, n := range r.owners {
		v.runs[f.Table][owner] += n
	}
	maps.Copy(v.claimed, r.counts)
	maps.Copy(v.sources, r.shas)
}

// live gives every live file, with its owners where they are asked for.
func (l *Lake) live(ctx context.Context, withOwners bool) (map[string]fileFact, error) {
	statement := `SELECT f.path, f.tbl, f.month, f.sha256, f.bytes, f.rows, f.added, NULL, NULL FROM files AS f WHERE f.removed IS NULL`
	if withOwners {
		statement = `SELECT f.path, f.tbl, f.month, f.sha256, f.bytes, f.rows, f.added, o.owner, o.rows
		FROM files AS f LEFT JOIN owners AS o ON o.path = f.path WHERE f.removed IS NULL`
	}
	files := map[string]fileFact{}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		f := fileFact{}
		var owner sql.NullString
		var rows sql.NullInt64
		if err := r.Scan(&f.Path, &f.Table, &f.Month, &f.SHA256, &f.Bytes, &f.Rows, &f.Added, &owner, &rows); err != nil {
			return err
		}
		if there, ok := files[f.Path]; ok {
			f = there
		} else {
			f.Owners = map[string]int64{}
			files[f.Path] = f
		}
		if owner.Valid {
			f.Owners[owner.String] = rows.Int64
		}
		return nil
	}, statement)
	return files, err
}

// sumFile gives the SHA-256 of a file's bytes.
func sumFile(ctx context.Context, path string) (sum string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	h := sha256.New()
	if _, err := io.Copy(h, within{ctx, f}); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
