package lake

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
)

// SetAside takes live files that cannot be read, or hold what they should not, out of use, and with them every row of the
// runs and refusals that had a part in them. It is one commit. The catalogue keeps what the runs depend on until they are
// stored again: Awaiting lists them. A refused source is forgotten, its bytes stay archived; it gives the SHA-256 of each.
func (w *Writer) SetAside(ctx context.Context, paths []string) (refused []string, err error) {
	if len(paths) == 0 {
		return nil, nil
	}
	w.commits.Lock()
	defer w.commits.Unlock()
	s := &saving{saver: w.lake.saver(), lake: w.lake, gone: map[string]bool{}, facts: map[string]ownerFact{}, blobs: map[string]Blob{}, damaged: map[string]bool{}}
	for _, p := range paths {
		s.damaged[p] = true
		if err := w.lake.ownersOf(ctx, p, s.gone); err != nil {
			return nil, err
		}
	}
	for owner := range s.gone {
		if sha256Form.MatchString(owner) {
			refused = append(refused, owner)
		}
	}
	slices.Sort(refused)
	err = s.store(ctx, func(ctx context.Context) ([]planned, error) {
		plan, err := s.plan(ctx)
		for _, p := range slices.Sorted(maps.Keys(s.damaged)) { // One that has no owner's rows is in no rewrite.
			if !slices.Contains(s.commit.Replaces, p) {
				s.commit.Replaces = append(s.commit.Replaces, p)
			}
		}
		return plan, err
	})
	if err != nil {
		return nil, fmt.Errorf("set damaged files aside: %w", err)
	}
	return refused, nil
}

// ownersOf marks whose rows a live file holds.
func (l *Lake) ownersOf(ctx context.Context, path string, mark map[string]bool) error {
	return query(ctx, l.db, func(r *sql.Rows) error {
		var owner string
		if err := r.Scan(&owner); err != nil {
			return err
		}
		mark[owner] = true
		return nil
	}, `SELECT o.owner FROM owners AS o JOIN files AS f ON f.path = o.path WHERE f.path = ? AND f.removed IS NULL`, path)
}

// Awaiting gives the runs that lost a part and are to be made again from the archive.
func (l *Lake) Awaiting(ctx context.Context) (map[string]Known, error) {
	version, err := l.format(ctx)
	if err != nil || version < 2 {
		return nil, err
	}
	return l.known(ctx, `SELECT run_id, fingerprint, depends FROM awaiting`)
}

// awaiting names the runs that were set aside and are not back.
func (v *verifying) awaiting() error {
	runs, err := v.lake.Awaiting(v.ctx)
	for _, id := range slices.Sorted(maps.Keys(runs)) {
		v.problems = append(v.problems, Problem{What: fmt.Sprintf("run %s was in a damaged file and is not made again yet", id),
			Cost: "run dynolake verify --repair, or ingest its logs again", Note: true, Wait: true})
	}
	return err
}
