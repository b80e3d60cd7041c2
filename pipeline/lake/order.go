package lake

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"path/filepath"
	"slices"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
)

// place is what a run is ordered by in a large file.
type place struct {
	run, platform, vehicle string
	started                arrow.Timestamp
}

// runOrder ranks the stored runs by platform, vehicle and start, so that rows which are compared lie together.
func (l *Lake) runOrder(ctx context.Context) (map[string]int, error) {
	var paths []string
	err := query(ctx, l.db, func(r *sql.Rows) error {
		var p string
		err := r.Scan(&p)
		paths = append(paths, p)
		return err
	}, `SELECT path FROM files WHERE tbl = 'runs' AND removed IS NULL`)
	if err != nil {
		return nil, err
	}
	var list []place
	for _, p := range paths {
		more, err := places(ctx, filepath.Join(l.root, p))
		if err != nil {
			return nil, err
		}
		list = append(list, more...)
	}
	slices.SortFunc(list, func(a, b place) int {
		return cmp.Or(cmp.Compare(a.platform, b.platform), cmp.Compare(a.vehicle, b.vehicle), cmp.Compare(a.started, b.started), cmp.Compare(a.run, b.run))
	})
	order := make(map[string]int, len(list))
	for i, p := range list {
		order[p.run] = i
	}
	return order, nil
}

// places reads a file of runs.
func places(ctx context.Context, path string) ([]place, error) {
	var list []place
	records, err := columnsOf(ctx, path, nil, "run_id", "platform", "vehicle", "started_at")
	if err != nil {
		return nil, err
	}
	defer releaseAll(records)
	for _, rec := range records {
		text := func(i int, name string) string {
			for _, at := range rec.Schema().FieldIndices(name) {
				if s, ok := rec.Column(at).(*array.String); ok && !s.IsNull(i) {
					return s.Value(i)
				}
			}
			return ""
		}
		for i := range int(rec.NumRows()) {
			p := place{run: text(i, "run_id"), platform: text(i, "platform"), vehicle: text(i, "vehicle")}
			for _, at := range rec.Schema().FieldIndices("started_at") {
				if t, ok := rec.Column(at).(*array.Timestamp); ok && !t.IsNull(i) {
					p.started = t.Value(i)
				}
			}
			list = append(list, p)
		}
	}
	return list, nil
}

// columnsOf reads the named columns that a file has, all of them when none is named, of the given row groups or of all.
// The records are the caller's to release.
func columnsOf(ctx context.Context, path string, groups []int, names ...string) (records []arrow.RecordBatch, err error) {
	f, err := file.OpenParquetFile(path, false)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{BatchSize: groupRows}, snug{memory.DefaultAllocator})
	if err != nil {
		return nil, err
	}
	var leaves []int
	form := f.MetaData().Schema
	for i := range form.NumColumns() {
		if len(names) == 0 || slices.Contains(names, form.Column(i).Path()) {
			leaves = append(leaves, i)
		}
	}
	if groups == nil {
		for g := range f.NumRowGroups() {
			groups = append(groups, g)
		}
	}
	t, err := r.ReadRowGroups(ctx, leaves, groups)
	if err != nil {
		return nil, err
	}
	defer t.Release()
	in := array.NewTableReader(t, 0)
	defer in.Release()
	for in.Next() {
		in.RecordBatch().Retain()
		records = append(records, in.RecordBatch())
	}
	return records, in.Err()
}
