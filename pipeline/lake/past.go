package lake

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"
)

const anew = "run dynolake verify --rebuild, which makes the catalogue anew from what the files say of themselves"

// told is what the live files say that the catalogue holds too.
type told struct {
	owners map[string]ownerFact
	names  map[int64]string // Of commits, by number.
}

// take notes what a file says.
func (t *told) take(f footer) {
	t.names[f.Commit.Number] = f.Commit.Name
	for _, o := range f.Owners {
		if f.Table == "runs" || f.Table == "findings" && sha256Form.MatchString(o.Owner) {
			t.owners[o.Owner] = o
		}
	}
}

// facts holds the catalogue against what the files say. It needs a full look at them.
func (v *verifying) facts() error {
	if v.quick || Faults(v.problems) > 0 {
		return nil
	}
	wrong := func(what, is, want string) {
		if is != want {
			v.find(catalogueName, "costs a new run of what stands on it: "+anew, "says %q as the %s, and the files say %q", is, what, want)
		}
	}
	runs, err := v.lake.Runs(v.ctx)
	if err != nil {
		return err
	}
	for _, id := range slices.Sorted(maps.Keys(runs)) {
		wrong("fingerprint of run "+id, runs[id].Fingerprint, v.told.owners[id].Fingerprint)
		wrong("dependencies of run "+id, runs[id].Depends, v.told.owners[id].Depends)
	}
	pairs := func(statement string, see func(key, value string)) error {
		return query(v.ctx, v.lake.db, func(r *sql.Rows) error {
			var key, value string
			if err := r.Scan(&key, &value); err != nil {
				return err
			}
			see(key, value)
			return nil
		}, statement)
	}
	err = pairs(`SELECT sha256, digest FROM refusals ORDER BY sha256`, func(sha, digest string) {
		wrong("digest of refused source "+sha, digest, v.told.owners[sha].Digest)
	})
	if err != nil {
		return err
	}
	return pairs(`SELECT id, name FROM snapshots ORDER BY id`, func(id, name string) {
		if n, err := strconv.ParseInt(id, 10, 64); err == nil && v.told.names[n] != "" {
			wrong("name of snapshot "+id, name, v.told.names[n])
		}
	})
}

// numberOf gives the number of the commit that a small table's file is of; false for samples, and for what is not ours.
func numberOf(p string) (int64, bool) {
	if !ours.MatchString(p) || strings.HasPrefix(p, "samples/") {
		return 0, false
	}
	n, err := strconv.ParseInt(path.Base(p)[:8], 10, 64)
	return n, err == nil
}

// newest is the number of the newest snapshot.
func (l *Lake) newest(ctx context.Context) (n int64, err error) {
	if err := l.db.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) FROM snapshots`).Scan(&n); err != nil {
		return 0, fmt.Errorf("read the catalogue: %w", err)
	}
	return n, nil
}

// beyond reports whether a file is of a commit that the catalogue cannot have missed by an interruption: those are of the
// next number. Such a catalogue is an older copy, or another lake's.
func beyond(p string, newest int64) (n int64, is bool) {
	n, small := numberOf(p)
	return n, small && n > newest+1
}
