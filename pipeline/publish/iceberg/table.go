package iceberg

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

// Table is one table at a destination.
type Table struct {
	store     store.Store
	def       schema.Table
	dir       string // Its folder in the store.
	location  string // The same for readers.
	meta      *metadata
	version   int // Of meta; 0 where the table is not there yet.
	changed   bool
	manifests []manifest // Of the current snapshot.
}

// Open reads a table's newest metadata and what it lists; location is where readers find the table's folder.
func Open(ctx context.Context, s store.Store, def schema.Table, location string) (*Table, error) {
	t := &Table{store: s, def: def, dir: def.Name, location: location}
	if err := t.open(ctx); err != nil {
		return nil, fmt.Errorf("read the published table %s: %w", def.Name, err)
	}
	return t, nil
}

func (t *Table) open(ctx context.Context) error {
	if err := t.newest(ctx); err != nil {
		return err
	}
	if t.version == 0 {
		m, err := begin(t.location, t.def)
		t.meta, t.changed = m, true
		return err
	}
	text, err := t.store.Read(ctx, t.metadataName(t.version))
	if err != nil {
		return err
	}
	t.meta = &metadata{}
	if err := json.Unmarshal(text, t.meta); err != nil {
		return fmt.Errorf("read %s: %w", t.metadataName(t.version), err)
	}
	if t.meta.Format != 2 || t.meta.Location != t.location {
		return fmt.Errorf("it is of format %d at %s, want format 2 at %s", t.meta.Format, t.meta.Location, t.location)
	}
	if t.changed, err = t.meta.adopt(t.def); err != nil {
		return err
	}
	s := t.meta.current()
	if s == nil {
		return nil
	}
	t.manifests, err = t.readList(ctx, s.List)
	return err
}

// newest finds the newest version: from the hint upwards, for a writer may have died before it moved the hint.
func (t *Table) newest(ctx context.Context) error {
	text, err := t.store.Read(ctx, t.hint())
	if err != nil && !errors.Is(err, store.ErrNone) {
		return err
	}
	if err == nil {
		if t.version, err = strconv.Atoi(strings.TrimSpace(string(text))); err != nil || t.version < 1 {
			return fmt.Errorf("read %s: found %q, want a number", t.hint(), text)
		}
	}
	for {
		_, err := t.store.Stat(ctx, t.metadataName(t.version+1))
		if errors.Is(err, store.ErrNone) {
			return nil
		}
		if err != nil {
			return err
		}
		t.version++
	}
}

func (t *Table) hint() string { return t.dir + "/metadata/version-hint.text" }

func (t *Table) metadataName(v int) string {
	return fmt.Sprintf("%s/metadata/v%d.metadata.json", t.dir, v)
}

// Live lists the data files of the current snapshot, by their names in the store.
func (t *Table) Live() map[string]Size {
	live := map[string]Size{}
	for _, m := range t.manifests {
		for _, e := range m.entries {
			live[t.name(e.Data.Path)] = Size{Rows: e.Data.Rows, Bytes: e.Data.Bytes}
		}
	}
	return live
}

// Size is a data file's.
type Size struct{ Rows, Bytes int64 }

// name turns a URI of the table into a name in the store, and uri back.
func (t *Table) name(uri string) string { return t.dir + strings.TrimPrefix(uri, t.location) }
func (t *Table) uri(name string) string { return t.location + strings.TrimPrefix(name, t.dir) }

// Lake tells which snapshot of the lake the table holds: its number and name, 0 where it holds none.
func (t *Table) Lake() (id int64, name string) {
	s := t.meta.current()
	if s == nil {
		return 0, ""
	}
	id, _ = strconv.ParseInt(s.Summary[keySnapshot], 10, 64) // Zero where it is none, and then it has no name either.
	return id, s.Summary[keyName]
}

// Pointer tells where readers find the current metadata.
func (t *Table) Pointer() string { return t.uri(t.metadataName(t.version)) }
