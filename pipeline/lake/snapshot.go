package lake

import (
	"context"
	"database/sql"

	"dynolake/schema"
)

// Known is what the catalogue knows of a stored run.
type Known struct {
	Fingerprint string // As given when it was committed.
	Depends     string // As given when it was committed.
}

// Snapshot lists the live files of every table as one commit left them. It takes no lock, and its files stay on disk for
// the grace period after a later commit supersedes them.
func (l *Lake) Snapshot(ctx context.Context) (schema.Snapshot, error) {
	s := schema.Snapshot{Root: l.root, Files: map[string][]string{}}
	for _, t := range schema.Tables() {
		s.Files[t.Name] = nil
	}
	err := query(ctx, l.db, func(r *sql.Rows) error { // One statement sees one state.
		var table, path sql.NullString
		if err := r.Scan(&s.ID, &table, &path); err != nil {
			return err
		}
		if path.Valid {
			s.Files[table.String] = append(s.Files[table.String], path.String)
		}
		return nil
	}, `SELECT s.id, f.tbl, f.path FROM (SELECT max(id) AS id FROM snapshots) AS s
		LEFT JOIN files AS f ON f.removed IS NULL ORDER BY f.tbl, f.path`)
	return s, err
}

// Runs gives every stored run by its id.
func (l *Lake) Runs(ctx context.Context) (map[string]Known, error) {
	return l.known(ctx, `SELECT run_id, fingerprint, depends FROM runs`)
}

// Run gives one stored run; false where there is none of the id.
func (l *Lake) Run(ctx context.Context, id string) (Known, bool, error) {
	runs, err := l.known(ctx, `SELECT run_id, fingerprint, depends FROM runs WHERE run_id = ?`, id)
	k, ok := runs[id]
	return k, ok, err
}

// Fingerprints gives every stored run's by its id: Runs without what they depend on, which is most of the catalogue.
func (l *Lake) Fingerprints(ctx context.Context) (map[string]string, error) {
	runs := map[string]string{}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var id, fingerprint string
		if err := r.Scan(&id, &fingerprint); err != nil {
			return err
		}
		runs[id] = fingerprint
		return nil
	}, `SELECT run_id, fingerprint FROM runs`)
	return runs, err
}

// known reads runs by their id.
func (l *Lake) known(ctx context.Context, statement string, args ...any) (map[string]Known, error) {
	runs := map[string]Known{}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var id string
		var k Known
		if err := r.Scan(&id, &k.Fingerprint, &k.Depends); err != nil {
			return err
		}
		runs[id] = k
		return nil
	}, statement, args...)
	return runs, err
}

// Refused gives the SHA-256 of every source that became no run and whose reason is in findings.
func (l *Lake) Refused(ctx context.Context) (map[string]bool, error) {
	refused := map[string]bool{}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var sha string
		if err := r.Scan(&sha); err != nil {
			return err
		}
		refused[sha] = true
		return nil
	}, `SELECT sha256 FROM refusals`)
	return refused, err
}
