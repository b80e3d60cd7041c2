package lake

import (
	"context"
	"fmt"
	"path/filepath"
	"strconv"

	"dynolake/pipeline/disk"
)

// migrations brings a catalogue from one format to the next. The Parquet files of every format stay readable as they are.
func migrations() map[int]string {
	return map[int]string{1: ddlAwaiting}
}

// migrate brings an older lake to the format of this program: one transaction, and a copy of the catalogue as it was beside
// it. It needs the writer's lock. After a failure the catalogue is as it was.
func (l *Lake) migrate(ctx context.Context) error {
	from, err := l.format(ctx)
	if err != nil || from == Format {
		return err
	}
	fail := func(err error) error {
		return fmt.Errorf("bring the lake at %s from format %d to %d: %w", l.root, from, Format, err)
	}
	if err := l.keepCatalogue(ctx, fmt.Sprintf("%s.format-%d", catalogueName, from)); err != nil {
		return fail(err)
	}
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return fail(err)
	}
	defer func() { _ = tx.Rollback() }() // After Commit it does nothing.
	e := entering{ctx: ctx, tx: tx}
	for v := from; v < Format; v++ {
		step, ok := migrations()[v]
		if !ok {
			return fail(fmt.Errorf("no way from format %d", v))
		}
		e.do(step)
	}
	e.do(`UPDATE meta SET value = ? WHERE key = 'format'`, strconv.Itoa(Format))
	if e.err != nil {
		return fail(e.err)
	}
	if err := l.disk.Commit(tx); err != nil {
		return fail(err)
	}
	return nil
}

// keepCatalogue copies the catalogue to a name beside it, whole or not at all. A copy that is there already is of an
// interrupted try and gives way.
func (l *Lake) keepCatalogue(ctx context.Context, name string) error {
	temp := filepath.Join(l.root, disk.TempPrefix+name)
	if err := l.removeCatalogue(temp, ""); err != nil {
		return fmt.Errorf("keep a copy of the catalogue: %w", err)
	}
	if _, err := l.db.ExecContext(ctx, `VACUUM INTO ?`, temp); err != nil {
		return fmt.Errorf("keep a copy of the catalogue: %w", err)
	}
	if err := l.disk.Sync(temp); err != nil {
		return fmt.Errorf("keep a copy of the catalogue: %w", err)
	}
	if err := l.disk.Rename(temp, filepath.Join(l.root, name)); err != nil {
		return fmt.Errorf("keep a copy of the catalogue: %w", err)
	}
	return l.disk.SyncDir(l.root)
}

// format reads the lake's own version.
func (l *Lake) format(ctx context.Context) (int, error) {
	var text string
	if err := l.db.QueryRowContext(ctx, `SELECT value FROM meta WHERE key = 'format'`).Scan(&text); err != nil {
		return 0, fmt.Errorf("read the catalogue of lake %s: %w: where the disk is neither full nor failing, the catalogue is damaged, and dynolake verify --rebuild makes it anew", l.root, err)
	}
	version, err := strconv.Atoi(text)
	if err != nil || version < 1 || version > Format {
		return 0, fmt.Errorf("open lake at %s: its format is %q and this program reads up to %d: use a newer dynolake", l.root, text, Format)
	}
	return version, nil
}
