package lake

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"dynolake/schema"
)

// without is an older file less the rows of owners that are no longer its.
type without struct {
	path   string
	owners map[string]int64 // Those that stay.
}

// facts reads what the older file says of the owners that stay.
func (w without) facts() (map[string]ownerFact, error) {
	f, err := file.OpenParquetFile(w.path, false)
	if err != nil {
		return nil, err
	}
	foot, err := parseFooter(func(key string) (string, bool) {
		v := f.MetaData().KeyValueMetadata().FindValue(key)
		if v == nil {
			return "", false
		}
		return *v, true
	})
	facts := map[string]ownerFact{}
	for _, o := range foot.Owners {
		facts[o.Owner] = o
	}
	return facts, errors.Join(err, f.Close())
}

func (w without) save(ctx context.Context, out io.Writer, foot footer) (err error) {
	in, err := file.OpenParquetFile(w.path, false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	r, err := pqarrow.NewFileReader(in, pqarrow.ArrowReadProperties{BatchSize: groupRows}, memory.DefaultAllocator)
	if err != nil {
		return err
	}
	form, err := r.Schema()
	if err != nil {
		return err
	}
	table, _ := schema.LookupTable(foot.Table)
	var columns []schema.Column
	for _, f := range form.Fields() {
		c, ok := table.Column(f.Name)
		if !ok {
			c.Name = f.Name
		}
		columns = append(columns, c)
	}
	meta, err := foot.metadata(columns)
	if err != nil {
		return err
	}
	form = arrow.NewSchema(form.Fields(), &meta)
	to, err := pqarrow.NewFileWriter(form, unclosed{out}, properties(form, settledRows), pqarrow.DefaultWriterProps())
	if err != nil {
		return err
	}
	rows := int64(0)
	for g := range in.NumRowGroups() {
		n, err := w.group(ctx, r, g, form, to)
		if err != nil {
			return errors.Join(err, to.Close())
		}
		rows += n
	}
	if want := total(w.owners); rows != want {
		return errors.Join(fmt.Errorf("copy %s: %d rows stay, want %d", w.path, rows, want), to.Close())
	}
	return to.Close()
}

func total(owners map[string]int64) int64 {
	n := int64(0)
	for _, rows := range owners {
		n += rows
	}
	return n
}

// every lists a file's leaf columns.
func every(r *pqarrow.FileReader) []int {
	list := make([]int, r.ParquetReader().MetaData().Schema.NumColumns())
	for i := range list {
		list[i] = i
	}
	return list
}

// group copies the rows of one row group that stay.
func (w without) group(ctx context.Context, r *pqarrow.FileReader, g int, form *arrow.Schema, to *pqarrow.FileWriter) (kept int64, err error) {
	t, err := r.ReadRowGroups(ctx, every(r), []int{g})
	if err != nil {
		return 0, err
	}
	defer t.Release()
	records := array.NewTableReader(t, 0)
	defer records.Release()
	fresh := true // Row groups stay as they were bounded.
	for records.Next() {
		rec := records.RecordBatch()
		for lo := 0; lo < int(rec.NumRows()); {
			hi, stays := w.stretch(rec, lo)
			if stays {
				if fresh && g > 0 {
					if err := to.NewBufferedRowGroupChecked(); err != nil {
						return kept, err
					}
				}
				fresh = false
				part := array.NewRecordBatch(form, rec.Columns(), rec.NumRows()).NewSlice(int64(lo), int64(hi))
				err := to.WriteBuffered(part)
				part.Release()
				if err != nil {
					return kept, err
				}
				kept += int64(hi - lo)
			}
			lo = hi
		}
	}
	return kept, records.Err()
}

// stretch finds where a run of rows that all stay, or all go, ends.
func (w without) stretch(rec arrow.RecordBatch, lo int) (hi int, kept bool) {
	_, kept = w.owners[recordOwner(rec, lo)]
	for hi = lo + 1; hi < int(rec.NumRows()); hi++ {
		if _, k := w.owners[recordOwner(rec, hi)]; k != kept {
			break
		}
	}
	return hi, kept
}

func recordOwner(rec arrow.RecordBatch, i int) string {
	text := func(column string) any {
		for _, at := range rec.Schema().FieldIndices(column) {
			if s, ok := rec.Column(at).(*array.String); ok && !s.IsNull(i) {
				return s.Value(i)
			}
		}
		return ""
	}
	return ownerOf(text("run_id"), text("sha256"))
}
