package iceberg

import (
	"bytes"
	"context"
	"fmt"

	"github.com/apache/iceberg-go"
	"github.com/google/uuid"

	"dynolake/pipeline/publish/store"
)

// manifest is a manifest with its live entries.
type manifest struct {
	file    iceberg.ManifestFile
	entries []iceberg.ManifestEntry
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
	files, err := iceberg.ReadManifestList(bytes.NewReader(text))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", t.name(uri), err)
	}
	var list []manifest
	for _, f := range files {
		text, err := t.store.Read(ctx, t.name(f.FilePath()))
		if err != nil {
			return nil, err
		}
		entries, err := iceberg.ReadManifest(f, bytes.NewReader(text), true)
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", t.name(f.FilePath()), err)
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
	list     []iceberg.ManifestFile
}

// manifest writes one; fill puts its entries.
func (w *writing) manifest(ctx context.Context, fill func(*iceberg.ManifestWriter) error) error {
	t := w.table
	var text bytes.Buffer
	out, err := iceberg.NewManifestWriter(2, &text, byMonth(), columns(t.meta.CurrentSchema, t.def), w.id)
	if err != nil {
		return err
	}
	if err := fill(out); err != nil {
		return err
	}
	if err := out.Close(); err != nil {
		return err
	}
	name := fmt.Sprintf("%s/metadata/%d-%s-m%d.avro", t.dir, w.id, uuid.NewString(), w.count)
	w.count++
	file, err := out.ToManifestFile(t.uri(name), int64(text.Len()))
	if err != nil {
		return err
	}
	w.list = append(w.list, file)
	return store.PutBytes(ctx, t.store, name, text.Bytes())
}

// added writes the manifests of new files.
func (w *writing) added(ctx context.Context, files []File) error {
	for lo := 0; lo < len(files); lo += perManifest {
		err := w.manifest(ctx, func(out *iceberg.ManifestWriter) error {
			for _, f := range files[lo:min(lo+perManifest, len(files))] {
				data, err := w.table.dataFile(f)
				if err != nil {
					return fmt.Errorf("name %s: %w", f.Name, err)
				}
				if err := out.Add(iceberg.NewManifestEntry(iceberg.EntryStatusADDED, &w.id, nil, nil, data)); err != nil {
					return fmt.Errorf("name %s: %w", f.Name, err)
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (t *Table) dataFile(f File) (iceberg.DataFile, error) {
	b, err := iceberg.NewDataFileBuilder(byMonth(), iceberg.EntryContentData, t.uri(f.Name), iceberg.ParquetFile,
		map[int]any{partitionID: f.Month}, nil, nil, f.Rows, f.Bytes)
	if err != nil {
		return nil, err
	}
	b.ColumnSizes(f.Facts.Sizes).ValueCounts(f.Facts.Values).NullValueCounts(f.Facts.Nulls).
		LowerBoundValues(f.Facts.Lower).UpperBoundValues(f.Facts.Upper).SplitOffsets(f.Facts.Offsets)
	if f.Sorted {
		b.SortOrderID(t.meta.DefaultOrder)
	}
	return b.Build(), nil
}

// kept writes entries of older snapshots again, those in gone as deleted.
func (w *writing) kept(ctx context.Context, entries []iceberg.ManifestEntry, gone map[string]bool) error {
	return w.manifest(ctx, func(out *iceberg.ManifestWriter) error {
		for _, e := range entries {
			put := out.Existing
			if gone[w.table.name(e.DataFile().FilePath())] {
				put = out.Delete
			}
			if err := put(e); err != nil {
				return err
			}
		}
		return nil
	})
}
