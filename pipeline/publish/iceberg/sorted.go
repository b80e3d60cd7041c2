package iceberg

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
)

// Sorted reports whether the rows of a file of runs lie in the table's sort order. Files of one commit lie as the runs came,
// compacted ones in order; a manifest says so only of those that do.
func Sorted(ctx context.Context, path string) (sorted bool, err error) {
	f, err := file.OpenParquetFile(path, false)
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		return false, err
	}
	t, err := r.ReadTable(ctx)
	if err != nil {
		return false, err
	}
	defer t.Release()
	records := array.NewTableReader(t, 0)
	defer records.Release()
	var last []key
	for records.Next() {
		for i := range int(records.RecordBatch().NumRows()) {
			now := keyAt(records.RecordBatch(), i)
			if last != nil && slices.CompareFunc(last, now, compareKeys) > 0 {
				return false, nil
			}
			last = now
		}
	}
	return true, records.Err()
}

// key is a value to sort by; NULL is before all.
type key struct {
	there  bool
	text   string
	number int64
}

func compareKeys(a, b key) int {
	if a.there != b.there {
		if a.there {
			return 1
		}
		return -1
	}
	return cmp.Or(cmp.Compare(a.text, b.text), cmp.Compare(a.number, b.number))
}

func keyAt(rec arrow.RecordBatch, i int) []key {
	var list []key
	for _, name := range OrderedBy() {
		k := key{}
		for _, at := range rec.Schema().FieldIndices(name) {
			switch c := rec.Column(at).(type) {
			case *array.String:
				if k.there = !c.IsNull(i); k.there {
					k.text = c.Value(i)
				}
			case *array.Timestamp:
				if k.there = !c.IsNull(i); k.there {
					k.number = int64(c.Value(i))
				}
			}
		}
		list = append(list, k)
	}
	return list
}
