package lake

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"dynolake/schema"
)

// State is one snapshot with what the catalogue knows of its files.
type State struct {
	Root   string
	ID     int64
	Name   string            // Of the commit that made it; two lakes that went different ways have different ones.
	Known  map[int64]string  // Names of the commits so far, by number.
	Tables map[string][]Live // By table, ordered by path.
}

// Live is a file that a snapshot holds.
type Live struct {
	Path   string // Relative to the lake, with slashes.
	SHA256 string
	Bytes  int64
	Rows   int64
	Months map[string]map[string]int64 // Rows of each owner, by the month of the owner's run; "unknown" where it has none.
}

// State gives the newest snapshot. It takes no lock; its files stay for the grace period after a later commit supersedes them.
func (l *Lake) State(ctx context.Context) (State, error) {
	for {
		s, err := l.snapshots(ctx)
		if err != nil {
			return s, err
		}
		if err := l.files(ctx, &s); err != nil {
			return s, err
		}
		again, err := l.snapshots(ctx)
		if err != nil || again.ID == s.ID {
			return s, err
		}
	}
}

// snapshots lists the commits so far.
func (l *Lake) snapshots(ctx context.Context) (State, error) {
	s := State{Root: l.root, Known: map[int64]string{}, Tables: map[string][]Live{}}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		err := r.Scan(&s.ID, &s.Name)
		s.Known[s.ID] = s.Name
		return err
	}, `SELECT id, name FROM snapshots ORDER BY id`)
	return s, err
}

// files lists the live files with their owners by month. A refused source is of no run, and so of no month.
func (l *Lake) files(ctx context.Context, s *State) error {
	return query(ctx, l.db, func(r *sql.Rows) error {
		var f Live
		var table, month string
		var owner sql.NullString
		var rows sql.NullInt64
		if err := r.Scan(&table, &f.Path, &f.SHA256, &f.Bytes, &f.Rows, &owner, &rows, &month); err != nil {
			return err
		}
		list := s.Tables[table]
		if n := len(list); n == 0 || list[n-1].Path != f.Path {
			f.Months = map[string]map[string]int64{}
			list = append(list, f)
			s.Tables[table] = list
		}
		if months := list[len(list)-1].Months; owner.Valid {
			if months[month] == nil {
				months[month] = map[string]int64{}
			}
			months[month][owner.String] = rows.Int64
		}
		return nil
	}, `WITH months AS (SELECT o.owner, min(f.month) AS month FROM files AS f JOIN owners AS o ON o.path = f.path
			WHERE f.tbl = 'samples' AND f.removed IS NULL GROUP BY o.owner)
		SELECT f.tbl, f.path, f.sha256, f.bytes, f.rows, o.owner, o.rows, coalesce(m.month, 'unknown')
		FROM files AS f LEFT JOIN owners AS o ON o.path = f.path LEFT JOIN months AS m ON m.owner = o.owner
		WHERE f.removed IS NULL ORDER BY f.tbl, f.path, o.owner`)
}

// Extract writes those rows of a file that belong to the given owners (rows of each), as a Parquet file that carries what
// the file says of them.
func (s State) Extract(ctx context.Context, table, path string, owners map[string]int64, to io.Writer) error {
	from := without{path: filepath.Join(s.Root, filepath.FromSlash(path)), owners: owners}
	facts, err := from.facts()
	if err != nil {
		return fmt.Errorf("read %s: %w", path, err)
	}
	foot := footer{Table: table}
	for _, owner := range slices.Sorted(keys(owners)) {
		fact, ok := facts[owner]
		if !ok {
			return fmt.Errorf("read %s: it has no rows of %s", path, owner)
		}
		foot.Owners = append(foot.Owners, fact)
	}
	if err := from.save(ctx, to, foot); err != nil {
		return fmt.Errorf("read %s: %w", path, err)
	}
	return nil
}

// Empty writes a Parquet file of a table with all of its columns and no row.
func Empty(t schema.Table, to io.Writer) error {
	meta, err := footer{Table: t.Name}.metadata(t.Columns)
	if err != nil {
		return err
	}
	return sheet{table: t, columns: t.Columns}.Write(to, meta)
}
