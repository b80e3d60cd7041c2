package lake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Rebuild makes the catalogue of the lake at path anew from what its Parquet files say of themselves and from the archive,
// whatever state the old one is in. A run or refusal that has lost a part is dropped whole and named among the problems; a
// later ingest of its logs brings it back. It needs the writer's lock, and the lake must not be open for writing.
func Rebuild(ctx context.Context, path, who string, opts ...Option) (problems []Problem, err error) {
	l := newLake(path, opts)
	if err := l.folder(); err != nil {
		return nil, err
	}
	if _, err := os.Stat(filepath.Join(l.root, "archive")); err != nil {
		if there, _ := l.hasFiles(); !there {
			return nil, fmt.Errorf("%w at %s: it has neither archive nor tables: run dynolake init", ErrNoLake, path)
		}
	}
	held, err := acquire(ctx.Done(), l.root, me(l.clock(), who))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, held.release()) }()
	h, err := l.history(ctx)
	if err != nil {
		return nil, fmt.Errorf("rebuild the catalogue: %w", err)
	}
	live, lost := h.state()
	blobs, problems, err := l.measureArchive(ctx)
	if err != nil {
		return nil, fmt.Errorf("rebuild the catalogue: %w", err)
	}
	err = l.createCatalogue(func(db *sql.DB) error { return l.refill(ctx, db, h, live, blobs) })
	if err != nil {
		return problems, fmt.Errorf("rebuild the catalogue: %w", err)
	}
	problems = append(problems, h.aside()...)
	for _, path := range h.unusable() {
		problems = append(problems, Problem{Path: path, What: h.lost[path], Cost: "it is left out of the catalogue, and a later writer removes it"})
	}
	for _, owner := range slices.Sorted(maps.Keys(lost)) {
		cost := "ingest its logs again (the archive has the bytes)"
		if h.told(live, owner) {
			cost = "run dynolake verify --repair, which makes it again from the archive"
		}
		problems = append(problems, Problem{What: nameOwner(owner) + " is dropped: " + lost[owner], Cost: cost})
	}
	return problems, l.dropLost(ctx, lost, h.unusable(), opts)
}

// history reads every file that a commit may have written.
func (l *Lake) history(ctx context.Context) (*history, error) {
	h := newHistory()
	sums := map[string]string{}
	err := l.walk(func(path string, _ os.DirEntry) error {
		if !ours.MatchString(path) {
			return nil
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		full := filepath.Join(l.root, path)
		r, err := reread(full, false)
		if err != nil {
			h.lost[path] = err.Error()
			return nil
		}
		if sums[path], err = sumFile(ctx, full); err != nil {
			return err
		}
		h.add(path, r)
		h.files[path].sha256 = sums[path]
		return nil
	})
	for _, names := range h.names {
		for _, c := range names {
			for _, f := range c.Files {
				if f.SHA256 != "" && sums[f.Path] != "" && f.SHA256 != sums[f.Path] {
					h.lost[f.Path] = "its bytes are not those that were written"
				}
			}
		}
	}
	for path := range h.lost {
		delete(h.files, path)
	}
	return h, err
}

// measureArchive reads the whole archive and gives what is sound in it.
func (l *Lake) measureArchive(ctx context.Context) (blobs []Blob, problems []Problem, err error) {
	archive := filepath.Join(l.root, "archive")
	err = filepath.WalkDir(archive, func(full string, d os.DirEntry, err error) error {
		if errors.Is(err, os.ErrNotExist) && full == archive {
			return nil
		}
		if err != nil || d.IsDir() {
			return err
		}
		sha, ok := strings.CutSuffix(d.Name(), ".zst")
		if !ok || !sha256Form.MatchString(sha) {
			return nil
		}
		b, err := l.measureBlob(ctx, sha)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			problems = append(problems, Problem{Path: path.Join("archive", sha[:2], d.Name()), What: err.Error(), Cost: "ingest the same log again"})
			return nil
		}
		blobs = append(blobs, b)
		return nil
	})
	return blobs, problems, err
}

// refill enters the live files, and what they say of their owners, into an empty catalogue.
func (l *Lake) refill(ctx context.Context, db *sql.DB, h *history, live []string, blobs []Blob) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // After Commit it does nothing.
	e := entering{ctx: ctx, tx: tx}
	for n, name := range h.order {
		if c := h.names[n][name]; c != nil {
			e.do(`INSERT INTO snapshots (id, name, at) VALUES (?, ?, ?)`, n, name, c.At.UnixMicro())
		}
	}
	for _, p := range live {
		r := h.files[p]
		info, err := os.Stat(filepath.Join(l.root, p))
		if err != nil {
			return err
		}
		e.file(fileFact{Path: p, SHA256: r.sha256, Bytes: info.Size(), Rows: r.rows, Table: r.footer.Table, Month: monthOf(p), Owners: r.owners}, r.footer.Commit.Number)
		for _, o := range r.footer.Owners {
			if r.footer.Table == "runs" || r.footer.Table == "findings" && sha256Form.MatchString(o.Owner) {
				e.owner(o.Owner, o)
			}
		}
	}
	for _, b := range blobs {
		e.do(`INSERT INTO blobs (sha256, bytes, stored) VALUES (?, ?, ?)`, b.SHA256, b.Size, b.stored)
	}
	if e.err != nil {
		return e.err
	}
	return tx.Commit()
}

// monthOf reads the month out of the path of samples; other tables have none.
func monthOf(p string) string {
	month, _ := strings.CutPrefix(path.Base(path.Dir(p)), "month=")
	if !strings.HasPrefix(p, "samples/") {
		return ""
	}
	return month
}

// dropLost commits the lake without the owners that lost a part, and names the files that are of no more use, so that a
// later rebuild does not miss them again.
func (l *Lake) dropLost(ctx context.Context, lost map[string]string, unusable []string, opts []Option) (err error) {
	if len(lost) == 0 && len(unusable) == 0 {
		return nil
	}
	to, err := Open(ctx, l.root, opts...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	s := &saving{saver: to.saver(), lake: to, gone: map[string]bool{}, facts: map[string]ownerFact{}, blobs: map[string]Blob{}, damaged: map[string]bool{}}
	for owner := range lost {
		s.gone[owner] = true
	}
	for _, p := range unusable {
		s.damaged[p] = true
	}
	s.commit.Replaces = unusable
	return s.store(ctx, s.plan)
}
