package iceberg

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/apache/iceberg-go"
	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

const home = "s3://fleet/lake/runs"

// open gives the table of runs in a new folder.
func open(t *testing.T) (*Table, store.Store) {
	t.Helper()
	s, err := store.Open(t.TempDir(), func(string) string { return "" })
	if err != nil {
		t.Fatal(err)
	}
	return reopen(t, s), s
}

func reopen(t *testing.T, s store.Store) *Table {
	t.Helper()
	def, ok := schema.LookupTable("runs")
	if !ok {
		t.Fatal("no table runs")
	}
	table, err := Open(t.Context(), s, def, home)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

func read(t *testing.T, s store.Store, table *Table, uri string) []byte {
	t.Helper()
	text, err := s.Read(t.Context(), table.name(uri))
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// facts has a value of every kind that a manifest keeps of a file.
func facts() Facts {
	return Facts{Sizes: map[int]int64{1: 70, 2000: 30}, Values: map[int]int64{1: 50, 2000: 50}, Nulls: map[int]int64{1: 0, 2000: 7},
		Lower: map[int][]byte{1: {0, 0, 0, 0, 0, 0, 0xf0, 0x3f}, 2000: []byte("a")}, Upper: map[int][]byte{2000: []byte("zz")}, Offsets: []int64{4, 4096}}
}

func commitFiles(t *testing.T, s store.Store, c Change) *Table {
	t.Helper()
	table := reopen(t, s)
	if err := table.Commit(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	return reopen(t, s)
}

func someFile(month string, n int, sorted bool) File {
	return File{Name: fmt.Sprintf("runs/data/month=%s/%d.parquet", month, n), Month: month, Rows: int64(10 * n), Bytes: int64(1000 + n), Facts: facts(), Sorted: sorted}
}

// said is what the other library finds in the manifests of a table's current snapshot, as texts.
func said(t *testing.T, s store.Store, table *Table) (files, entries []string) {
	t.Helper()
	list, err := iceberg.ReadManifestList(bytes.NewReader(read(t, s, table, table.meta.current().List)))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range list {
		p := m.Partitions()
		if len(p) != 1 || p[0].LowerBound == nil || p[0].UpperBound == nil {
			t.Fatalf("partitions %v, want one with bounds", p)
		}
		text := read(t, s, table, m.FilePath())
		if m.Length() != int64(len(text)) || len(m.KeyMetadata()) != 0 || m.ManifestContent() != iceberg.ManifestContentData || m.Version() != 2 {
			t.Errorf("%v: want %d bytes, no key, data, version 2", m, len(text))
		}
		files = append(files, fmt.Sprintf("spec %d snapshot %d sequence %d from %d files %d+%d-%d rows %d+%d-%d months %s..%s null %t", m.PartitionSpecID(), m.SnapshotID(),
			m.SequenceNum(), m.MinSequenceNum(), m.AddedDataFiles(), m.ExistingDataFiles(), m.DeletedDataFiles(), m.AddedRows(), m.ExistingRows(), m.DeletedRows(),
			*p[0].LowerBound, *p[0].UpperBound, p[0].ContainsNull))
		found, err := iceberg.ReadManifest(m, bytes.NewReader(text), false)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range found {
			entries = append(entries, fmt.Sprintf("%s %d of snapshot %d sequence %d/%d month %v", []string{"existing", "added", "deleted"}[e.Status()], e.DataFile().FileSizeBytes(), e.SnapshotID(), e.SequenceNum(),
				*e.FileSequenceNum(), e.DataFile().Partition()[partitionID]))
			sameFacts(t, e.DataFile())
		}
	}
	return files, entries
}

func sameFacts(t *testing.T, d iceberg.DataFile) {
	t.Helper()
	f := facts()
	got := Facts{Sizes: d.ColumnSizes(), Values: d.ValueCounts(), Nulls: d.NullValueCounts(), Lower: d.LowerBoundValues(), Upper: d.UpperBoundValues(), Offsets: d.SplitOffsets()}
	if diff := cmp.Diff(f, got); diff != "" {
		t.Errorf("%s: %s", d.FilePath(), diff)
	}
	if d.FileFormat() != iceberg.ParquetFile || d.ContentType() != iceberg.EntryContentData || len(d.KeyMetadata()) != 0 || len(d.EqualityFieldIDs()) != 0 || len(d.NaNValueCounts()) != 0 {
		t.Errorf("%s is %v %v with more than was said of it", d.FilePath(), d.FileFormat(), d.ContentType())
	}
	if want := d.FileSizeBytes() == 1002; (d.SortOrderID() != nil && *d.SortOrderID() == 1) != want {
		t.Errorf("%s has the sort order %v, want one: %t", d.FilePath(), d.SortOrderID(), want)
	}
}

// What a commit writes is what another library reads: who added a file and who took it out, sequence numbers (given by the
// list, kept when an entry is written again), counts, and the bounds of the partition.
func TestAnotherLibraryReadsTheManifests(t *testing.T) {
	_, s := open(t)
	table := commitFiles(t, s, Change{Lake: 11, Add: []File{someFile("2025-04", 1, false), someFile("2025-05", 2, true), someFile("unknown", 3, false)}})
	files, entries := said(t, s, table)
	wantFiles := []string{"spec 0 snapshot 11 sequence 1 from 1 files 3+0-0 rows 60+0-0 months 2025-04..unknown null false"}
	wantEntries := []string{"added 1001 of snapshot 11 sequence 1/1 month 2025-04", "added 1002 of snapshot 11 sequence 1/1 month 2025-05", "added 1003 of snapshot 11 sequence 1/1 month unknown"}
	if diff := cmp.Diff([][]string{wantFiles, wantEntries}, [][]string{files, entries}); diff != "" {
		t.Error(diff)
	}
	table = commitFiles(t, s, Change{Lake: 12, Add: []File{someFile("2025-06", 4, false)}, Remove: []string{"runs/data/month=2025-05/2.parquet"}})
	files, entries = said(t, s, table)
	wantFiles = []string{"spec 0 snapshot 12 sequence 2 from 1 files 0+2-1 rows 0+40-20 months 2025-04..unknown null false", "spec 0 snapshot 12 sequence 2 from 2 files 1+0-0 rows 40+0-0 months 2025-06..2025-06 null false"}
	wantEntries = []string{"existing 1001 of snapshot 11 sequence 1/1 month 2025-04", "deleted 1002 of snapshot 12 sequence 1/1 month 2025-05", "existing 1003 of snapshot 11 sequence 1/1 month unknown",
		"added 1004 of snapshot 12 sequence 2/2 month 2025-06"}
	if diff := cmp.Diff([][]string{wantFiles, wantEntries}, [][]string{files, entries}); diff != "" {
		t.Error(diff)
	}
	// Files that went earlier are in no manifest of the next snapshot.
	table = commitFiles(t, s, Change{Lake: 13, Remove: []string{"runs/data/month=unknown/3.parquet"}})
	if _, entries = said(t, s, table); slices.ContainsFunc(entries, func(e string) bool { return e == wantEntries[1] }) || len(entries) != 3 || len(table.Live()) != 2 {
		t.Errorf("entries %q, live %v", entries, table.Live())
	}
}

// The schema and the partition are told as the other library tells them.
func TestSchemasAreToldAsTheOtherLibraryTellsThem(t *testing.T) {
	for _, def := range schema.Tables() {
		text, err := json.Marshal(columns(3, def))
		if err != nil {
			t.Fatal(err)
		}
		var other iceberg.Schema
		if err := json.Unmarshal(text, &other); err != nil {
			t.Fatalf("%s: %v", def.Name, err)
		}
		back, err := json.Marshal(&other)
		if err != nil || !same(text, back) {
			t.Errorf("%s: %v\n%s\n%s", def.Name, err, text, back)
		}
		if ours := columns(3, def); other.HighestFieldID() != ours.highest() || other.NumFields() != len(def.Columns)+1 {
			t.Errorf("%s: highest id %d, want %d", def.Name, ours.highest(), other.HighestFieldID())
		}
	}
	text, err := json.Marshal(byMonth())
	if err != nil {
		t.Fatal(err)
	}
	var other iceberg.PartitionSpec
	if err := json.Unmarshal(text, &other); err != nil || other.NumFields() != 1 || other.Field(0).Name != "month" || other.Field(0).Transform != (iceberg.IdentityTransform{}) || other.Field(0).SourceID() != MonthID {
		t.Errorf("partition %v: %v", other, err)
	}
}

// Manifests that the other library wrote, as earlier versions published them, are read and carried on.
func TestManifestsOfTheOtherLibraryAreCarriedOn(t *testing.T) {
	table, s := open(t)
	text, err := json.Marshal(columns(0, table.def))
	if err != nil {
		t.Fatal(err)
	}
	form := &iceberg.Schema{}
	if err := json.Unmarshal(text, form); err != nil {
		t.Fatal(err)
	}
	spec := iceberg.NewPartitionSpecID(0, iceberg.PartitionField{SourceIDs: []int{MonthID}, FieldID: partitionID, Name: "month", Transform: iceberg.IdentityTransform{}})
	var old bytes.Buffer
	w, err := iceberg.NewManifestWriter(2, &old, spec, form, 11)
	if err != nil {
		t.Fatal(err)
	}
	id, f := int64(11), facts()
	for _, n := range []int64{1, 2} {
		b, err := iceberg.NewDataFileBuilder(spec, iceberg.EntryContentData, fmt.Sprintf("%s/data/month=2025-04/%d.parquet", home, n), iceberg.ParquetFile, map[int]any{partitionID: "2025-04"}, nil, nil, 10*n, 1000+n)
		if err != nil {
			t.Fatal(err)
		}
		b.ColumnSizes(f.Sizes).ValueCounts(f.Values).NullValueCounts(f.Nulls).LowerBoundValues(f.Lower).UpperBoundValues(f.Upper).SplitOffsets(f.Offsets)
		if n == 2 {
			b.SortOrderID(1)
		}
		if err := w.Add(iceberg.NewManifestEntry(iceberg.EntryStatusADDED, &id, nil, nil, b.Build())); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	m, err := w.ToManifestFile(home+"/metadata/old.avro", int64(old.Len()))
	if err != nil {
		t.Fatal(err)
	}
	var list bytes.Buffer
	sequence := int64(1)
	if err := iceberg.WriteManifestList(2, &list, 11, nil, &sequence, 0, []iceberg.ManifestFile{m}); err != nil {
		t.Fatal(err)
	}
	table.meta.push(snapshot{ID: 11, Sequence: 1, List: home + "/metadata/list.avro", Summary: map[string]string{keySnapshot: "11"}})
	meta, err := json.Marshal(table.meta)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string][]byte{"old.avro": old.Bytes(), "list.avro": list.Bytes(), "v1.metadata.json": meta} {
		if err := store.PutBytes(t.Context(), s, "runs/metadata/"+name, content); err != nil {
			t.Fatal(err)
		}
	}
	table = commitFiles(t, s, Change{Lake: 12, Add: []File{someFile("2025-06", 4, false)}})
	if table.meta.CurrentSchema != 0 || len(table.Live()) != 3 {
		t.Errorf("schema %d, live %v", table.meta.CurrentSchema, table.Live())
	}
	table = commitFiles(t, s, Change{Lake: 13, Remove: []string{"runs/data/month=2025-04/1.parquet"}})
	_, entries := said(t, s, table)
	want := []string{"deleted 1001 of snapshot 13 sequence 1/1 month 2025-04", "existing 1002 of snapshot 11 sequence 1/1 month 2025-04", "added 1004 of snapshot 12 sequence 2/2 month 2025-06"}
	if diff := cmp.Diff(want, entries); diff != "" {
		t.Error(diff)
	}
}

// A manifest that is cut short is refused, and nothing is taken for all of it.
func TestACutManifestIsRefused(t *testing.T) {
	_, s := open(t)
	table := commitFiles(t, s, Change{Lake: 11, Add: []File{someFile("2025-04", 1, false)}})
	name := table.name(table.manifests[0].file.Path)
	text := read(t, s, table, table.manifests[0].file.Path)
	for _, n := range []int{0, 3, len(text) / 2, len(text) - 20, len(text) - 1} {
		if err := store.PutBytes(t.Context(), s, name, text[:n]); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(t.Context(), s, table.def, home); err == nil {
			t.Errorf("a manifest of %d of %d bytes was taken", n, len(text))
		}
	}
}
