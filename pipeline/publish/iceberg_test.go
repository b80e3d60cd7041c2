package publish

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/iceberg-go"
	icetable "github.com/apache/iceberg-go/table"

	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

func TestIcebergTablesHoldTheLake(t *testing.T) {
	l := stocked(t)
	dest := filepath.Join(t.TempDir(), "out")
	r := publishTo(t, l, dest, Iceberg)
	s := openStore(t, dest, noEnv)
	sameAsLake(t, l, s, r.URI)
	scanned(t, s, r.URI)
	compactAll(t, l)
	publishTo(t, l, dest, Iceberg)
	sameAsLake(t, l, s, r.URI)
	scanned(t, s, r.URI)
	if got := iceTable(t, s, r.URI, "runs").SortOrder(); got.Len() != 3 {
		t.Errorf("runs is sorted by %v, want platform, vehicle, started_at", got)
	}
	for _, f := range planned(t, iceTable(t, s, r.URI, "runs")) {
		if id := f.SortOrderID(); id == nil || *id != 1 {
			t.Errorf("compacted runs are sorted, and %s says %v", f.FilePath(), id)
		}
	}
}

func planned(t *testing.T, table *icetable.Table, o ...icetable.ScanOption) []iceberg.DataFile {
	t.Helper()
	tasks, err := table.Scan(o...).PlanFiles(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var files []iceberg.DataFile
	for _, task := range tasks {
		files = append(files, task.File)
	}
	return files
}

// scanned reads the tables with the Iceberg library's own scan: schema, values, months and what a filter leaves.
func scanned(t *testing.T, s store.Store, location string) {
	t.Helper()
	samples := iceTable(t, s, location, "samples")
	for _, c := range mustTable(t, "samples").Columns {
		if f, ok := samples.Schema().FindFieldByName(c.Name); !ok || f.ID != c.ID {
			t.Errorf("column %s has id %d, want %d", c.Name, f.ID, c.ID)
		}
	}
	rows, sum, months := 0, 0.0, map[any]int64{}
	scan(t, samples, func(rec arrow.RecordBatch, i int) {
		rows++
		if b := column[*array.Float32](t, rec, "boost_kpa"); !b.IsNull(i) {
			sum += float64(b.Value(i))
		}
	})
	want := 0.0
	for seed := 1; seed <= 3; seed++ { // As invent makes them.
		for i := range 50 {
			if i%7 != 3 {
				want += float64(seed*i) + 0.25
			}
		}
	}
	if rows != 150 || math.Abs(sum-want) > 1e-6*want {
		t.Errorf("scan gives %d rows with a sum of %g, want 150 and %g", rows, sum, want)
	}
	// The library gives NULL for a partition's column that is in no file, where the specification has the partition's value; so
	// months are read from the plan.
	for _, f := range planned(t, samples) {
		months[f.Partition()[1000]] += f.Count()
	}
	if fmt.Sprint(months) != "map[2025-04:50 2025-05:50 unknown:50]" {
		t.Errorf("rows by month: %v", months)
	}
	rows = 0
	filter := icetable.WithRowFilter(iceberg.EqualTo(iceberg.Reference("month"), "2025-05"))
	scan(t, samples, func(arrow.RecordBatch, int) { rows++ }, filter)
	if files := planned(t, samples, filter); rows != 50 || len(files) != 1 {
		t.Errorf("May has %d rows in %d files, want 50 in 1", rows, len(files))
	}
	lists := 0
	scan(t, iceTable(t, s, location, "unmapped"), func(rec arrow.RecordBatch, i int) {
		from, to := column[*array.List](t, rec, "t_s").ValueOffsets(i)
		lists += int(to - from)
	})
	if lists != 9 {
		t.Errorf("unmapped has %d values, want 9", lists)
	}
}

func mustTable(t *testing.T, name string) schema.Table {
	t.Helper()
	table, ok := schema.LookupTable(name)
	if !ok {
		t.Fatalf("no table %s", name)
	}
	return table
}

// scan visits every row.
func scan(t *testing.T, table *icetable.Table, visit func(arrow.RecordBatch, int), o ...icetable.ScanOption) {
	t.Helper()
	_, records, err := table.Scan(o...).ToArrowRecords(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for rec, err := range records {
		if err != nil {
			t.Fatal(err)
		}
		for i := range int(rec.NumRows()) {
			visit(rec, i)
		}
		rec.Release()
	}
}

func column[A arrow.Array](t *testing.T, rec arrow.RecordBatch, name string) A {
	t.Helper()
	at := rec.Schema().FieldIndices(name)
	if len(at) != 1 {
		t.Fatalf("no column %s in %v", name, rec.Schema())
	}
	a, ok := rec.Column(at[0]).(A)
	if !ok {
		t.Fatalf("column %s is %T", name, rec.Column(at[0]))
	}
	return a
}

func TestPublishingAgainMovesOnlyWhatIsNew(t *testing.T) {
	l := stocked(t)
	dest := filepath.Join(t.TempDir(), "out")
	first := publishTo(t, l, dest, Iceberg)
	s := openStore(t, dest, noEnv)
	if r := publishTo(t, l, dest, Iceberg); r.New() || len(iceTable(t, s, r.URI, "samples").Metadata().Snapshots()) != 1 {
		t.Errorf("nothing is new, and it reports %+v", r)
	}
	commit(t, l, invent(4, 5, "van-a"))
	r := publishTo(t, l, dest, Iceberg)
	sameAsLake(t, l, s, r.URI)
	for i, m := range r.Tables {
		was := first.Tables[i]
		if m.Added != 1 || m.Gone != 0 || m.Copied != m.Bytes-was.Bytes || m.Files != was.Files+1 {
			t.Errorf("one run came, and %s moved %+v after %+v", m.Table, m, was)
		}
	}
	commit(t, l, invent(2, 5, "van-z")) // The run again, with another vehicle.
	r = publishTo(t, l, dest, Iceberg)
	sameAsLake(t, l, s, r.URI)
	runs := iceTable(t, s, r.URI, "runs")
	now := runs.CurrentSnapshot()
	state, err := l.State(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if now.SnapshotID != state.ID || now.Summary.Properties["dynolake.snapshot-name"] != state.Name || now.Summary.Operation != icetable.OpOverwrite {
		t.Errorf("snapshot %d (%s), want the lake's %d %s", now.SnapshotID, now, state.ID, state.Name)
	}
	// The snapshot before is still whole: the run under its old vehicle.
	old := 0
	scan(t, runs, func(rec arrow.RecordBatch, i int) {
		if column[*array.String](t, rec, "vehicle").Value(i) == "van-z" {
			t.Error("an old snapshot shows what came later")
		}
		old++
	}, icetable.WithSnapshotID(*now.ParentSnapshotID))
	if old != 4 {
		t.Errorf("the snapshot before has %d runs, want 4", old)
	}
}

func nothing(arrow.RecordBatch, int) {}

func withSnapshot(id int64) icetable.ScanOption { return icetable.WithSnapshotID(id) }
