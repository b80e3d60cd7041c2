package lake

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"path"
	"path/filepath"
	"slices"
)

// rewrites plans what becomes of the live files that hold rows of owners to be replaced: a file of such rows alone is
// superseded, another is written anew without them, so that no snapshot sees an owner twice or half.
func (s *saving) rewrites(ctx context.Context) ([]planned, error) {
	affected := map[string]*planned{}
	for _, owner := range slices.Sorted(maps.Keys(s.gone)) {
		if !s.gone[owner] {
			continue
		}
		err := query(ctx, s.lake.db, func(r *sql.Rows) error {
			p := planned{owners: map[string]int64{}}
			if err := r.Scan(&p.path, &p.table, &p.month); err != nil {
				return err
			}
			affected[p.path] = &p
			return nil
		}, `SELECT f.path, f.tbl, f.month FROM owners AS o JOIN files AS f ON f.path = o.path WHERE o.owner = ? AND f.removed IS NULL`, owner)
		if err != nil {
			return nil, err
		}
	}
	var plan []planned
	for i, old := range slices.Sorted(maps.Keys(affected)) {
		s.commit.Replaces = append(s.commit.Replaces, old)
		p := affected[old]
		if err := s.keep(ctx, p, old); err != nil {
			return nil, err
		}
		if len(p.owners) == 0 || s.damaged[old] {
			continue
		}
		from := without{path: filepath.Join(s.root, old), owners: p.owners}
		facts, err := from.facts()
		if err != nil {
			return nil, fmt.Errorf("carry over the rest of %s: %w", old, err)
		}
		p.facts, p.sheet = facts, from
		p.path = fmt.Sprintf("%s/%08d-%s.parquet", path.Dir(old), s.commit.Number, rewriteName(s.commit.Name, i))
		plan = append(plan, *p)
	}
	return plan, nil
}

// rewriteName tells the files that a commit rewrites from each other and from its own.
func rewriteName(name string, i int) string { return fmt.Sprintf("%s%08x", name[:8], i+1) }

// keep finds the owners whose rows stay.
func (s *saving) keep(ctx context.Context, p *planned, old string) error {
	return query(ctx, s.lake.db, func(r *sql.Rows) error {
		var owner string
		var rows int64
		if err := r.Scan(&owner, &rows); err != nil {
			return err
		}
		if !s.gone[owner] {
			p.owners[owner] = rows
			p.rows += rows
		}
		return nil
	}, `SELECT owner, rows FROM owners WHERE path = ?`, old)
}
