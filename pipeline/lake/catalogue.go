package lake

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strconv"

	"dynolake/pipeline/disk"

	_ "modernc.org/sqlite" // Registers the driver of the catalogue.
)

const catalogueName = "catalogue.db"

// An owner is a run by its id or a refused source by its SHA-256: what rows of a file belong to.
const ddl = `
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE snapshots (id INTEGER PRIMARY KEY, name TEXT NOT NULL, at INTEGER NOT NULL);
CREATE TABLE files (path TEXT PRIMARY KEY, tbl TEXT NOT NULL, month TEXT NOT NULL, sha256 TEXT NOT NULL,
	bytes INTEGER NOT NULL, rows INTEGER NOT NULL, added INTEGER NOT NULL, removed INTEGER, removed_at INTEGER);
CREATE INDEX files_live ON files (tbl, path) WHERE removed IS NULL;
CREATE TABLE owners (owner TEXT NOT NULL, path TEXT NOT NULL, rows INTEGER NOT NULL, PRIMARY KEY (owner, path)) WITHOUT ROWID;
CREATE INDEX owners_path ON owners (path);
CREATE TABLE runs (run_id TEXT PRIMARY KEY, fingerprint TEXT NOT NULL, depends TEXT NOT NULL);
CREATE TABLE refusals (sha256 TEXT PRIMARY KEY, digest TEXT NOT NULL);
CREATE TABLE blobs (sha256 TEXT PRIMARY KEY, bytes INTEGER NOT NULL, stored INTEGER NOT NULL);
` + ddlAwaiting

// ddlAwaiting holds the runs that lost a part and are to be made again from the archive. It came with format 2.
const ddlAwaiting = `CREATE TABLE awaiting (run_id TEXT PRIMARY KEY, fingerprint TEXT NOT NULL, depends TEXT NOT NULL);`

// openCatalogue opens catalogue.db for reading and writing, or as it stands where the medium is read-only.
func openCatalogue(path string) (*sql.DB, error) {
	query := "?_pragma=busy_timeout(20000)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=foreign_keys(ON)&_txlock=immediate"
	if f, err := os.OpenFile(path, os.O_RDWR, 0); err == nil {
		if err := f.Close(); err != nil {
			return nil, fmt.Errorf("open catalogue: %w", err)
		}
	} else {
		query = "?mode=ro&immutable=1"
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open catalogue: %w", err)
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: filepath.ToSlash(abs)}).String()+query)
	if err != nil {
		return nil, fmt.Errorf("open catalogue: %w", err)
	}
	return db, nil
}

// createCatalogue makes a catalogue under a temporary name, has it filled, and then gives it its own.
func (l *Lake) createCatalogue(fill func(*sql.DB) error) error {
	path, temp := filepath.Join(l.root, catalogueName), filepath.Join(l.root, disk.TempPrefix+catalogueName)
	err := l.removeCatalogue(temp, "", "-wal", "-shm", "-journal")
	if err == nil {
		err = l.disk.Put(temp, 0o666, func(io.Writer) error { return nil })
	}
	if err == nil {
		if err = fillCatalogue(temp, fill); err == nil {
			err = l.disk.Sync(temp)
		}
		if err == nil {
			err = l.replaceCatalogue(temp, path)
		}
		if err != nil {
			err = errors.Join(err, l.removeCatalogue(temp, "", "-wal", "-shm"))
		}
	}
	if err == nil {
		err = l.disk.SyncDir(l.root)
	}
	if err != nil {
		return fmt.Errorf("make catalogue: %w", err)
	}
	return nil
}

func fillCatalogue(path string, fill func(*sql.DB) error) error {
	db, err := openCatalogue(path)
	if err != nil {
		return err
	}
	_, err = db.Exec(ddl+`INSERT INTO meta VALUES ('format', ?); INSERT INTO snapshots VALUES (0, 'empty', 0);`, strconv.Itoa(Format))
	if err == nil {
		err = fill(db)
	}
	if err == nil {
		_, err = db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
	}
	return errors.Join(err, db.Close())
}

// replaceCatalogue puts a new catalogue in the place of one that may be there. The old one's log goes first, for it would be played into
// the new one; where it can be, it is played into the old one before, so that a failure in between loses nothing.
func (l *Lake) replaceCatalogue(temp, path string) error {
	if _, err := os.Stat(path + "-wal"); err == nil {
		if db, err := openCatalogue(path); err == nil {
			_, _ = db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`) // One that is damaged cannot be saved by it.
			_ = db.Close()
		}
	}
	if err := l.removeCatalogue(path, "-wal", "-shm"); err != nil {
		return err
	}
	return l.disk.Rename(temp, path)
}

// removeCatalogue removes files of a catalogue by the ends of their names.
func (l *Lake) removeCatalogue(path string, ends ...string) error {
	for _, end := range ends {
		if _, err := os.Lstat(path + end); errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err := l.disk.Remove(path + end); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

// query runs a statement and hands each row to scan.
func query(ctx context.Context, q interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}, scan func(*sql.Rows) error, statement string, args ...any) (err error) {
	rows, err := q.QueryContext(ctx, statement, args...)
	if err != nil {
		return fmt.Errorf("read the catalogue: %w", err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := scan(rows); err != nil {
			return fmt.Errorf("read the catalogue: %w", err)
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("read the catalogue: %w", err)
	}
	return nil
}
