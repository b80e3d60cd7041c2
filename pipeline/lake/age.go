package lake

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"dynolake/schema"
)

// A clock that is this far off what the system's own count since its start makes of it was set: by hand, or by a time server
// after a start with a dead battery.
const setBy = time.Minute

// moment is a time by the clock and by the count since the system's start, in µs. Boot names the start; it is empty where the
// system does not tell, and then the clock is all that there is.
type moment struct {
	boot     string
	up, wall int64
}

func (l *Lake) moment() moment {
	m := moment{wall: l.clock().UnixMicro()}
	if l.uptime != nil {
		var up time.Duration
		m.boot, up = l.uptime()
		m.up = up.Microseconds()
	}
	return m
}

func (m moment) text() string {
	if m.boot == "" {
		return ""
	}
	return fmt.Sprintf("%s %d %d", m.boot, m.up, m.wall)
}

// since tells by how much the clock was set between two moments; zero where nothing tells.
func (m moment) since(text string) time.Duration {
	var then moment
	if n, _ := fmt.Sscan(text, &then.boot, &then.up, &then.wall); n < 3 || then.boot != m.boot {
		return 0
	}
	set := time.Duration((m.wall-then.wall)-(m.up-then.up)) * time.Microsecond
	if set.Abs() < setBy {
		return 0
	}
	return set
}

// attempted tells when files of a commit of that number were last written, by one that was interrupted; zero where there are none.
func (l *Lake) attempted(number int64) (last time.Time) {
	for _, t := range schema.Tables() {
		names, _ := filepath.Glob(filepath.Join(l.root, t.Name, fmt.Sprintf("%08d-*.parquet", number))) // The pattern is sound.
		for _, name := range names {
			if info, err := os.Stat(name); err == nil && info.ModTime().After(last) {
				last = info.ModTime()
			}
		}
	}
	return last
}

// dated notes the moment of a commit, to which its clock's times are held later.
func (e *entering) dated(m moment) {
	e.do(`INSERT OR REPLACE INTO meta VALUES ('clock', ?)`, m.text())
}

// reckon puts the times at which files were superseded right where the clock was set since the last commit, and tells by how
// much it was. They keep their age: a reader loses no file because the clock went ahead, and no file stays for a year because
// it went back. What still was superseded later than now, by the clock of another start of the system, has its time before it.
func (l *Lake) reckon(ctx context.Context) (set time.Duration, err error) {
	now := l.moment()
	then, _, err := l.stored(ctx, `SELECT value FROM meta WHERE key = ?`, "clock")
	if err != nil {
		return 0, err
	}
	set = now.since(then)
	_, ahead, err := l.stored(ctx, `SELECT path FROM files WHERE removed_at > CAST(? AS INTEGER) LIMIT 1`, strconv.FormatInt(now.wall+setBy.Microseconds(), 10))
	if err != nil || set == 0 && !ahead {
		return set, err
	}
	tx, err := l.db.BeginTx(ctx, nil)
	if err != nil {
		return set, fmt.Errorf("write the catalogue: %w", err)
	}
	defer func() { _ = tx.Rollback() }() // After Commit it does nothing.
	e := entering{ctx: ctx, tx: tx}
	e.do(`UPDATE files SET removed_at = min(removed_at + ?, ?) WHERE removed IS NOT NULL`, set.Microseconds(), now.wall)
	e.dated(now)
	if e.err == nil {
		e.err = l.disk.Commit(tx)
	}
	if e.err != nil {
		return set, fmt.Errorf("write the catalogue: %w", e.err)
	}
	return set, nil
}
