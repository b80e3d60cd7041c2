package lake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"dynolake/pipeline/disk"
)

// Swept counts what a writer cleared away.
type Swept struct {
	Temporary  int     // Files of interrupted saves, never named.
	Orphans    int     // Files of interrupted commits, named but in no snapshot.
	Superseded int     // Files of older snapshots.
	Problems   []error // What could not be removed; it stays for the next time.
}

// ours matches the names that commits give, so that a file somebody else put there is never removed.
var ours = regexp.MustCompile(`^(samples/month=[^/]+|[a-z]+)/([0-9a-f]{16}|[0-9]{8})-[0-9a-f]{16}\.parquet$`)

// sweep clears what is of no more use. Under the lock nobody else writes, so that a temporary file is an interrupted save's.
func (l *Lake) sweep(ctx context.Context) (Swept, error) {
	var s Swept
	remove := func(path string, n *int) bool {
		if err := l.disk.Remove(filepath.Join(l.root, path)); err != nil && !errors.Is(err, os.ErrNotExist) {
			s.Problems = append(s.Problems, err)
			return false
		}
		*n++
		return true
	}
	known, err := l.paths(ctx)
	if err != nil {
		return s, err
	}
	set, err := l.reckon(ctx)
	if err != nil {
		return s, err
	}
	newest, err := l.newest(ctx)
	if err != nil {
		return s, err
	}
	before := l.clock().Add(-l.grace)
	young := l.grace + max(set, 0) // A file that was just written looks older by what the clock was set ahead.
	var orphans []string
	err = l.walk(func(path string, d os.DirEntry) error {
		if strings.HasPrefix(d.Name(), disk.TempPrefix) {
			remove(path, &s.Temporary)
			return nil
		}
		if known[path] || !ours.MatchString(path) {
			return nil
		}
		if n, later := beyond(path, newest); later {
			return fmt.Errorf("the catalogue is older than the lake's files, or another lake's: it ends with snapshot %d, and %s is of commit %d: nothing was removed: %s", newest, path, n, anew)
		}
		if info, err := d.Info(); err == nil && info.ModTime().Before(l.clock().Add(-young)) {
			orphans = append(orphans, path)
		}
		return nil
	})
	if err != nil {
		return s, err
	}
	for _, path := range orphans { // None before all were looked at.
		remove(path, &s.Orphans)
	}
	for _, dir := range []string{"", "archive"} { // None but the lock's holder writes there.
		l.temporary(dir, time.Time{}, func(path string) { remove(path, &s.Temporary) })
	}
	for _, dir := range []string{"reports", "config", "config/mappings", "config/packs", "config/can", "inbox/refused"} { // A report may be under way.
		l.temporary(dir, time.Now().Add(-young), func(path string) { remove(path, &s.Temporary) })
	}
	return s, l.sweepSuperseded(ctx, before.UnixMicro(), func(path string) bool { return remove(path, &s.Superseded) })
}

// temporary finds the files of interrupted saves in a folder that were last written to before a moment of the system's clock; zero is any.
func (l *Lake) temporary(dir string, before time.Time, found func(path string)) {
	list, _ := os.ReadDir(filepath.Join(l.root, dir)) // A folder that is missing or cannot be read has none that can be removed.
	for _, e := range list {
		info, err := e.Info()
		if err == nil && info.Mode().IsRegular() && strings.HasPrefix(e.Name(), disk.TempPrefix) && (before.IsZero() || info.ModTime().Before(before)) {
			found(filepath.Join(dir, e.Name()))
		}
	}
}

// sweepSuperseded removes files that no snapshot within the grace period has, the longest superseded first: a rebuild of
// the catalogue relies on that order.
func (l *Lake) sweepSuperseded(ctx context.Context, before int64, remove func(string) bool) error {
	var paths []string
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var p string
		err := r.Scan(&p)
		paths = append(paths, p)
		return err
	}, `SELECT path FROM files WHERE removed IS NOT NULL AND removed_at < ? ORDER BY removed, path`, before)
	if err != nil || len(paths) == 0 {
		return err
	}
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("write the catalogue: %w", err)
	}
	defer func() { _ = tx.Rollback() }() // After Commit it does nothing.
	for _, p := range paths {
		if !remove(p) {
			break
		}
		for _, statement := range []string{`DELETE FROM owners WHERE path = ?`, `DELETE FROM files WHERE path = ?`} {
			if _, err := tx.ExecContext(ctx, statement, p); err != nil {
				return fmt.Errorf("write the catalogue: %w", err)
			}
		}
	}
	if err := l.disk.Commit(tx); err != nil {
		return fmt.Errorf("write the catalogue: %w", err)
	}
	return nil
}

// paths gives every file that the catalogue knows, live or superseded.
func (l *Lake) paths(ctx context.Context) (map[string]bool, error) {
	known := map[string]bool{}
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var p string
		err := r.Scan(&p)
		known[p] = true
		return err
	}, `SELECT path FROM files`)
	return known, err
}
