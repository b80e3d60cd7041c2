package lake

import (
	"context"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
)

// binding is a merge under way.
type binding struct {
	paths []string
	form  *arrow.Schema
	to    *pqarrow.FileWriter
	open  map[[2]int][]arrow.RecordBatch // Row groups by file and number.
	left  map[[2]int]int                 // Chapters of each that are still to come.
	rows  int64
	size  int // Values in the row group that is being written, where rows are lists.
}

// copy writes a chapter.
func (b *binding) copy(ctx context.Context, c chapter) error {
	key := [2]int{c.file, c.group}
	if _, there := b.open[key]; !there {
		records, err := columnsOf(ctx, b.paths[c.file], []int{c.group})
		if err != nil {
			return err
		}
		b.open[key] = records
	}
	at := 0
	for _, rec := range b.open[key] {
		lo, hi := max(c.lo-at, 0), min(c.hi-at, int(rec.NumRows()))
		at += int(rec.NumRows())
		if lo >= hi {
			continue
		}
		if err := b.write(rec, int64(lo), int64(hi)); err != nil {
			return err
		}
	}
	if b.left[key]--; b.left[key] == 0 {
		releaseAll(b.open[key])
		delete(b.open, key)
	}
	return nil
}

// write appends rows in the merged form: a column that their file left out is NULL.
func (b *binding) write(rec arrow.RecordBatch, lo, hi int64) error {
	columns := make([]arrow.Array, b.form.NumFields())
	for i, f := range b.form.Fields() {
		if at := rec.Schema().FieldIndices(f.Name); len(at) > 0 {
			columns[i] = array.NewSlice(rec.Column(at[0]), lo, hi)
		} else {
			columns[i] = array.MakeArrayOfNull(memory.DefaultAllocator, f.Type, int(hi-lo))
		}
		defer columns[i].Release()
		b.size += listed(columns[i])
	}
	out := array.NewRecordBatch(b.form, columns, hi-lo)
	defer out.Release()
	if b.size > groupValues {
		if err := b.to.NewBufferedRowGroupChecked(); err != nil {
			return err
		}
		b.size = 0
	}
	b.rows += hi - lo
	return b.to.WriteBuffered(out)
}

// listed counts the values in a column of lists.
func listed(a arrow.Array) int {
	l, ok := a.(*array.List)
	if !ok || l.Len() == 0 {
		return 0
	}
	from, _ := l.ValueOffsets(0)
	_, to := l.ValueOffsets(l.Len() - 1)
	return int(to - from)
}

func (b *binding) release() {
	for _, records := range b.open {
		releaseAll(records)
	}
}

func releaseAll(records []arrow.RecordBatch) {
	for _, r := range records {
		r.Release()
	}
}
