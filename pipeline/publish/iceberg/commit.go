package iceberg

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"dynolake/pipeline/publish/store"
)

// What a snapshot's summary says of the lake.
const (
	keySnapshot = "dynolake.snapshot-id"
	keyName     = "dynolake.snapshot-name"
)

// A manifest holds up to perManifest files; when there are more than most manifests, they are written anew together.
const (
	perManifest = 5000
	most        = 32
)

// Change is what one commit does to a table.
type Change struct {
	Lake   int64  // The lake's snapshot.
	Name   string // Its name.
	Add    []File
	Remove []string // Names in the store.
	At     time.Time
	Keep   time.Duration // How long a superseded snapshot stays readable.
}

// Commit makes a change visible, or only a changed schema; it does nothing where there is neither. It fails with
// store.ErrTaken when another writer was first.
func (t *Table) Commit(ctx context.Context, c Change) error {
	if len(c.Add) == 0 && len(c.Remove) == 0 && !t.changed {
		return nil
	}
	at := max(c.At.UnixMilli(), t.meta.LastUpdated+1)
	if t.version > 0 {
		t.meta.MetadataLog = append(t.meta.MetadataLog, metadataEntry{At: t.meta.LastUpdated, File: t.uri(t.metadataName(t.version))})
	}
	if len(c.Add) > 0 || len(c.Remove) > 0 {
		if err := t.snapshot(ctx, c, at); err != nil {
			return fmt.Errorf("publish table %s: %w", t.dir, err)
		}
	}
	t.meta.LastUpdated = at
	t.meta.expire(c.At.Add(-c.Keep))
	text, err := json.MarshalIndent(t.meta, "", " ")
	if err != nil {
		return fmt.Errorf("publish table %s: %w", t.dir, err)
	}
	if err := t.store.Create(ctx, t.metadataName(t.version+1), text); err != nil {
		return fmt.Errorf("publish table %s: %w", t.dir, err)
	}
	t.version++
	t.changed = false
	return t.Settle(ctx)
}

// Settle moves the hint to the newest version.
func (t *Table) Settle(ctx context.Context) error {
	if t.version == 0 {
		return nil
	}
	said, err := t.store.Read(ctx, t.hint())
	if now := strconv.Itoa(t.version); errors.Is(err, store.ErrNone) || err == nil && string(bytes.TrimSpace(said)) != now {
		err = store.PutBytes(ctx, t.store, t.hint(), []byte(now))
	}
	if err != nil {
		return fmt.Errorf("publish table %s: %w", t.dir, err)
	}
	return nil
}

// snapshot stores what the new snapshot consists of and puts it into the metadata.
func (t *Table) snapshot(ctx context.Context, c Change, at int64) error {
	w := &writing{table: t, id: t.free(c.Lake), sequence: t.meta.LastSequence + 1}
	gone := map[string]bool{}
	for _, name := range c.Remove {
		gone[name] = true
	}
	total, err := w.carry(ctx, gone)
	if err != nil {
		return err
	}
	if err := w.added(ctx, c.Add); err != nil {
		return err
	}
	s := snapshot{ID: w.id, Sequence: w.sequence, At: at, Schema: t.meta.CurrentSchema, Parent: t.meta.Current, Summary: t.summary(c, total)}
	name, err := w.listing(ctx, s.Parent)
	if err != nil {
		return err
	}
	s.List = t.uri(name)
	t.meta.push(s)
	return nil
}

// free is the lake's number, or the next one that no snapshot has.
func (t *Table) free(id int64) int64 {
	for slices.ContainsFunc(t.meta.Snapshots, func(s snapshot) bool { return s.ID == id }) {
		id += 1 << 40 // Beyond all numbers that the lake will come to.
	}
	return id
}

// carry takes over what the snapshot before holds and counts what is left of it. Manifests that name a removed file are
// written anew, and all of them when there are many.
func (w *writing) carry(ctx context.Context, gone map[string]bool) (left counts, err error) {
	merge := len(w.table.manifests) > most
	var rest []entry
	for _, m := range w.table.manifests {
		hit := false
		for _, e := range m.entries {
			if gone[w.table.name(e.Data.Path)] {
				hit = true
				continue
			}
			left.add(e.Data.Rows, e.Data.Bytes)
		}
		switch {
		case len(m.entries) == 0:
		case hit:
			err = w.kept(ctx, m.entries, gone)
		case merge:
			rest = append(rest, m.entries...)
		default:
			w.list = append(w.list, m.file)
		}
		if err != nil {
			return left, err
		}
	}
	for part := range slices.Chunk(rest, perManifest) {
		if err := w.kept(ctx, part, nil); err != nil {
			return left, err
		}
	}
	return left, nil
}

type counts struct{ files, rows, bytes int64 }

func (c *counts) add(rows, bytes int64) {
	c.files++
	c.rows += rows
	c.bytes += bytes
}

// summary says what a snapshot did, and of which snapshot of the lake it is.
func (t *Table) summary(c Change, left counts) map[string]string {
	live := t.Live()
	var added, removed counts
	for _, f := range c.Add {
		added.add(f.Rows, f.Bytes)
	}
	for _, name := range c.Remove {
		removed.add(live[name].Rows, live[name].Bytes)
	}
	operation := "append"
	if len(c.Remove) > 0 {
		operation = "overwrite"
		if len(c.Add) == 0 {
			operation = "delete"
		}
	}
	s := map[string]string{"operation": operation, keyName: c.Name, "total-delete-files": "0", "total-position-deletes": "0", "total-equality-deletes": "0"}
	for key, n := range map[string]int64{keySnapshot: c.Lake, "added-data-files": added.files, "added-records": added.rows, "added-files-size": added.bytes,
		"deleted-data-files": removed.files, "deleted-records": removed.rows, "removed-files-size": removed.bytes,
		"total-data-files": left.files + added.files, "total-records": left.rows + added.rows, "total-files-size": left.bytes + added.bytes} {
		s[key] = strconv.FormatInt(n, 10)
	}
	return s
}
