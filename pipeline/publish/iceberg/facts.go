package iceberg

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"math"
	"path/filepath"

	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/file"
	footer "github.com/apache/arrow-go/v18/parquet/metadata"

	"dynolake/schema"
)

// longest is the longest text, in bytes, that is kept as a bound; run ids, kinds and names are shorter.
const longest = 64

// Facts is what a manifest says of a Parquet file, by field id. Bounds are in the encoding of single values that the
// specification shares with Parquet's plain encoding.
type Facts struct {
	Sizes, Values, Nulls map[int]int64
	Lower, Upper         map[int][]byte
	Offsets              []int64
}

// ReadFacts reads them from a file's footer. Bounds are kept of t_s and of the columns beside the catalogue's: those are what
// files differ by; every file of samples has every engine speed.
func ReadFacts(path string) (f Facts, err error) {
	r, err := file.OpenParquetFile(filepath.Clean(path), false)
	if err != nil {
		return Facts{}, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	f = Facts{Sizes: map[int]int64{}, Values: map[int]int64{}, Nulls: map[int]int64{}, Lower: map[int][]byte{}, Upper: map[int][]byte{}}
	unbounded := map[int]bool{}
	for g := range r.NumRowGroups() {
		group := r.MetaData().RowGroup(g)
		for i := range group.NumColumns() {
			chunk, err := group.ColumnChunk(i)
			if err != nil {
				return Facts{}, err
			}
			if i == 0 {
				f.Offsets = append(f.Offsets, start(chunk))
			}
			if err := f.add(int(r.MetaData().Schema.Column(i).SchemaNode().FieldID()), chunk, unbounded); err != nil {
				return Facts{}, err
			}
		}
	}
	for id := range unbounded {
		delete(f.Lower, id)
		delete(f.Upper, id)
	}
	return f, nil
}

func start(c *footer.ColumnChunkMetaData) int64 {
	if c.HasDictionaryPage() && c.DictionaryPageOffset() > 0 {
		return min(c.DictionaryPageOffset(), c.DataPageOffset())
	}
	return c.DataPageOffset()
}

func (f *Facts) add(id int, c *footer.ColumnChunkMetaData, unbounded map[int]bool) error {
	f.Sizes[id] += c.TotalCompressedSize()
	f.Values[id] += c.NumValues()
	stats, err := c.Statistics()
	if err != nil {
		return err
	}
	if stats == nil || !stats.HasNullCount() {
		unbounded[id] = true
		return nil
	}
	f.Nulls[id] += stats.NullCount()
	if !bounded(id) || stats.NullCount() == c.NumValues() {
		return nil
	}
	if !stats.HasMinMax() {
		unbounded[id] = true
		return nil
	}
	low, high := stats.EncodeMin(), stats.EncodeMax()
	if len(low) > longest || len(high) > longest {
		unbounded[id] = true
		return nil
	}
	if old, ok := f.Lower[id]; !ok || compare(c.Type(), low, old) < 0 {
		f.Lower[id] = bytes.Clone(low)
	}
	if old, ok := f.Upper[id]; !ok || compare(c.Type(), high, old) > 0 {
		f.Upper[id] = bytes.Clone(high)
	}
	return nil
}

// bounded reports whether a column's bounds are kept: t_s and the columns of tables.yaml that are no lists.
func bounded(id int) bool { return id == 1 || id >= 2000 && id < 2000+schema.ElementID }

func compare(t parquet.Type, a, b []byte) int {
	le := binary.LittleEndian
	switch t {
	case parquet.Types.Int32:
		return cmp.Compare(int32(le.Uint32(a)), int32(le.Uint32(b)))
	case parquet.Types.Int64:
		return cmp.Compare(int64(le.Uint64(a)), int64(le.Uint64(b)))
	case parquet.Types.Float:
		return cmp.Compare(math.Float32frombits(le.Uint32(a)), math.Float32frombits(le.Uint32(b)))
	case parquet.Types.Double:
		return cmp.Compare(math.Float64frombits(le.Uint64(a)), math.Float64frombits(le.Uint64(b)))
	}
	return bytes.Compare(a, b)
}
