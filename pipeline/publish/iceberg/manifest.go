package iceberg

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"

	"github.com/google/uuid"

	"dynolake/pipeline/publish/store"
)

// manifest is a manifest with its live entries.
type manifest struct {
	file    manifestFile
	entries []entry
}

// File is a data file to be added, which is stored already.
type File struct {
	Name   string // In the store.
	Month  string
	Rows   int64
	Bytes  int64
	Facts  Facts
	Sorted bool // By the table's sort order.
}

// readList reads a manifest list and the manifests in it.
func (t *Table) readList(ctx context.Context, uri string) ([]manifest, error) {
	text, err := t.store.Read(ctx, t.name(uri))
	if err != nil {
		return nil, err
	}
	files, err := readAvro[manifestFile](listSchema, text)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", t.name(uri), err)
	}
	var list []manifest
	for _, f := range files {
		text, err := t.store.Read(ctx, t.name(f.Path))
		if err != nil {
			return nil, err
		}
		if int64(len(text)) != f.Length {
			return nil, fmt.Errorf("read %s: found %d bytes, want the %d of its list", t.name(f.Path), len(text), f.Length)
		}
		entries, err := readAvro[entry](manifestSchema, text)
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", t.name(f.Path), err)
		}
		entries = slices.DeleteFunc(entries, func(e entry) bool { return e.Status == deleted })
		for i := range entries {
			entries[i].inherit(f)
		}
		list = append(list, manifest{file: f, entries: entries})
	}
	return list, nil
}

// writing is a snapshot under way.
type writing struct {
	table    *Table
	id       int64
	sequence int64
	count    int
	list     []manifestFile
}

// manifest writes one.
func (w *writing) manifest(ctx context.Context, entries []entry) error {
	t := w.table
	form, err := json.Marshal(columns(t.meta.CurrentSchema, t.def))
	if err != nil {
		return err
	}
	spec := byMonth()
	fields, err := json.Marshal(spec.Fields)
	if err != nil {
		return err
	}
	text, err := writeAvro(manifestSchema, map[string]string{"schema": string(form), "schema-id": strconv.Itoa(t.meta.CurrentSchema),
		"partition-spec": string(fields), "partition-spec-id": strconv.Itoa(spec.ID), "format-version": "2", "content": "data"}, entries)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("%s/metadata/%d-%s-m%d.avro", t.dir, w.id, uuid.NewString(), w.count)
	w.count++
	file := manifestFile{Path: t.uri(name), Length: int64(len(text)), Spec: int32(spec.ID), Sequence: w.sequence, Snapshot: w.id}
	file.enlist(entries)
	w.list = append(w.list, file)
	return store.PutBytes(ctx, t.store, name, text)
}

// listing writes the manifest list and tells its name.
func (w *writing) listing(ctx context.Context, parent *int64) (string, error) {
	before := "null"
	if parent != nil {
		before = strconv.FormatInt(*parent, 10)
	}
	text, err := writeAvro(listSchema, map[string]string{"format-version": "2", "snapshot-id": strconv.FormatInt(w.id, 10),
		"parent-snapshot-id": before, "sequence-number": strconv.FormatInt(w.sequence, 10)}, w.list)
	if err != nil {
		return "", err
	}
	name := fmt.Sprintf("%s/metadata/snap-%d-%s.avro", w.table.dir, w.id, uuid.NewString())
	return name, store.PutBytes(ctx, w.table.store, name, text)
}

// added writes the manifests of new files. Their sequence number is left to the list, as a commit that has to be tried again
// would change it.
func (w *writing) added(ctx context.Context, files []File) error {
	for part := range slices.Chunk(files, perManifest) {
		entries := make([]entry, 0, len(part))
		for _, f := range part {
			entries = append(entries, entry{Status: added, Snapshot: &w.id, Data: w.table.dataFile(f)})
		}
		if err := w.manifest(ctx, entries); err != nil {
			return err
		}
	}
	return nil
}

func (t *Table) dataFile(f File) dataFile {
	d := dataFile{Path: t.uri(f.Name), Format: "PARQUET", Partition: partition{Month: &f.Month}, Rows: f.Rows, Bytes: f.Bytes,
		Sizes: countsOf(f.Facts.Sizes), Values: countsOf(f.Facts.Values), Nulls: countsOf(f.Facts.Nulls),
		Lower: boundsOf(f.Facts.Lower), Upper: boundsOf(f.Facts.Upper), Offsets: f.Facts.Offsets}
	if f.Sorted {
		order := int32(t.meta.DefaultOrder)
		d.Order = &order
	}
	return d
}

// kept writes entries of older snapshots again, those in gone as deleted by this one.
func (w *writing) kept(ctx context.Context, entries []entry, gone map[string]bool) error {
	list := make([]entry, 0, len(entries))
	for _, e := range entries {
		e.Status = existing
		if gone[w.table.name(e.Data.Path)] {
			e.Status, e.Snapshot = deleted, &w.id
		}
		list = append(list, e)
	}
	return w.manifest(ctx, list)
}
