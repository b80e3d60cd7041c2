package iceberg

import (
	"cmp"
	"maps"
	"slices"
)

// What a manifest says of a file.
const (
	existing int32 = iota
	added
	deleted
)

// entry is a record of a manifest.
type entry struct {
	Status       int32    `avro:"status"`
	Snapshot     *int64   `avro:"snapshot_id"`     // That added the file, or took it out.
	Sequence     *int64   `avro:"sequence_number"` // Nil where it is the manifest's, which a writer does not know yet.
	FileSequence *int64   `avro:"file_sequence_number"`
	Data         dataFile `avro:"data_file"`
}

// dataFile is what a manifest holds of a Parquet file.
type dataFile struct {
	Content   int32     `avro:"content"`
	Path      string    `avro:"file_path"`
	Format    string    `avro:"file_format"`
	Partition partition `avro:"partition"`
	Rows      int64     `avro:"record_count"`
	Bytes     int64     `avro:"file_size_in_bytes"`
	Sizes     []count   `avro:"column_sizes"`
	Values    []count   `avro:"value_counts"`
	Nulls     []count   `avro:"null_value_counts"`
	NaNs      []count   `avro:"nan_value_counts"`
	Lower     []bound   `avro:"lower_bounds"`
	Upper     []bound   `avro:"upper_bounds"`
	Key       []byte    `avro:"key_metadata"`
	Offsets   []int64   `avro:"split_offsets"`
	Equal     []int32   `avro:"equality_ids"`
	Order     *int32    `avro:"sort_order_id"`
}

type partition struct {
	Month *string `avro:"month"`
}

// count and bound are an element of a map by field id, which Avro has no other form for.
type count struct {
	ID int32 `avro:"key"`
	N  int64 `avro:"value"`
}

type bound struct {
	ID    int32  `avro:"key"`
	Value []byte `avro:"value"`
}

// manifestFile is a record of a manifest list.
type manifestFile struct {
	Path         string    `avro:"manifest_path"`
	Length       int64     `avro:"manifest_length"`
	Spec         int32     `avro:"partition_spec_id"`
	Content      int32     `avro:"content"`
	Sequence     int64     `avro:"sequence_number"`
	MinSequence  int64     `avro:"min_sequence_number"`
	Snapshot     int64     `avro:"added_snapshot_id"`
	Added        int32     `avro:"added_files_count"`
	Existing     int32     `avro:"existing_files_count"`
	Deleted      int32     `avro:"deleted_files_count"`
	AddedRows    int64     `avro:"added_rows_count"`
	ExistingRows int64     `avro:"existing_rows_count"`
	DeletedRows  int64     `avro:"deleted_rows_count"`
	Partitions   []summary `avro:"partitions"`
	Key          []byte    `avro:"key_metadata"`
}

// summary is what a manifest's entries have of a partition field.
type summary struct {
	Null  bool   `avro:"contains_null"`
	NaN   *bool  `avro:"contains_nan"`
	Lower []byte `avro:"lower_bound"`
	Upper []byte `avro:"upper_bound"`
}

// inherit fills in what an entry takes from its manifest.
func (e *entry) inherit(m manifestFile) {
	if e.Snapshot == nil {
		e.Snapshot = &m.Snapshot
	}
	if e.Status != added {
		return
	}
	if e.Sequence == nil {
		e.Sequence = &m.Sequence
	}
	if e.FileSequence == nil {
		e.FileSequence = &m.Sequence
	}
}

// enlist sums a manifest's entries up for the list. A file whose sequence number is not stated has the manifest's.
func (m *manifestFile) enlist(entries []entry) {
	m.MinSequence = m.Sequence
	no := false
	s := summary{NaN: &no}
	for _, e := range entries {
		switch e.Status {
		case added:
			m.Added++
			m.AddedRows += e.Data.Rows
		case deleted:
			m.Deleted++
			m.DeletedRows += e.Data.Rows
		default:
			m.Existing++
			m.ExistingRows += e.Data.Rows
		}
		if e.Status != deleted && e.Sequence != nil {
			m.MinSequence = min(m.MinSequence, *e.Sequence)
		}
		s.add(e.Data.Partition.Month)
	}
	m.Partitions = []summary{s}
}

func (s *summary) add(month *string) {
	if month == nil {
		s.Null = true
		return
	}
	v := []byte(*month)
	if s.Lower == nil || slices.Compare(v, s.Lower) < 0 {
		s.Lower = v
	}
	if s.Upper == nil || slices.Compare(v, s.Upper) > 0 {
		s.Upper = v
	}
}

// countsOf and boundsOf give a map as its elements by field id.
func countsOf(m map[int]int64) []count {
	list := make([]count, 0, len(m))
	for _, id := range slices.Sorted(maps.Keys(m)) {
		list = append(list, count{ID: int32(id), N: m[id]})
	}
	return list
}

func boundsOf(m map[int][]byte) []bound {
	list := make([]bound, 0, len(m))
	for id, v := range m {
		list = append(list, bound{ID: int32(id), Value: v})
	}
	slices.SortFunc(list, func(a, b bound) int { return cmp.Compare(a.ID, b.ID) })
	return list
}
