package publish

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish/iceberg"
	"dynolake/pipeline/publish/store"
)

// later publishes as if hours had gone by.
func later(t *testing.T, l *lake.Lake, dest string, hours int) Report {
	t.Helper()
	o := options(Iceberg)
	o.Now = func() time.Time { return time.Now().Add(time.Duration(hours) * time.Hour) }
	r, err := Run(t.Context(), l, dest, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func namesOf(t *testing.T, s store.Store, prefix string) []string {
	t.Helper()
	var names []string
	for info, err := range s.List(t.Context(), prefix) {
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, info.Name)
	}
	return names
}

// A superseded snapshot stays readable for the kept time; then it goes, with the files that were its alone.
func TestOldSnapshotsEnd(t *testing.T) {
	l := stocked(t)
	dest := filepath.Join(t.TempDir(), "out")
	r := later(t, l, dest, 0)
	s := openStore(t, dest, noEnv)
	if err := store.PutBytes(t.Context(), s, "samples/notes.txt", []byte("somebody's")); err != nil {
		t.Fatal(err)
	}
	if err := store.PutBytes(t.Context(), s, "samples/data/month=2025-05/orphan.parquet", []byte("of an interrupted publish")); err != nil {
		t.Fatal(err)
	}
	commit(t, l, invent(2, 5, "van-z"))
	later(t, l, dest, 0)
	if n := len(iceTable(t, s, r.URI, "samples").Metadata().Snapshots()); n != 2 {
		t.Errorf("%d snapshots right after, want 2", n)
	}
	if n := len(namesOf(t, s, "samples/data/")); n != 5 { // Three runs, the one before it was made anew, the orphan.
		t.Errorf("%d data files right after, want 5", n)
	}
	commit(t, l, invent(4, 5, "van-a"))
	later(t, l, dest, 3)
	sameAsLake(t, l, s, r.URI)
	table := iceTable(t, s, r.URI, "samples").Metadata()
	if n := len(table.Snapshots()); n != 2 { // The first was superseded hours ago, the second only now.
		t.Errorf("%d snapshots after three hours, want 2", n)
	}
	if names := namesOf(t, s, "samples/data/"); len(names) != 4 {
		t.Errorf("data files after three hours: %v, want one for each of four runs", names)
	}
	for _, old := range table.Snapshots() {
		scan(t, iceTable(t, s, r.URI, "samples"), nothing, withSnapshot(old.SnapshotID))
	}
	if names := namesOf(t, s, "samples/notes"); len(names) != 1 {
		t.Error("a file of somebody else's was removed")
	}
	var versions int
	for _, name := range namesOf(t, s, "samples/metadata/") {
		if strings.HasSuffix(name, ".metadata.json") {
			versions++
		}
	}
	if versions != 3-1 {
		t.Errorf("%d metadata files, want the current one and the one before", versions)
	}
}

// A clock that is days ahead, or behind, takes nothing away that another publisher has just stored in the same bucket.
func TestAWrongClockSweepsNothingOfAnother(t *testing.T) {
	env := serve(t)
	l := stocked(t)
	o := with(Iceberg, env)
	at := func(days int) {
		t.Helper()
		commit(t, l, invent(20+days, 5, "van-a"))
		o.Now = func() time.Time { return time.Now().AddDate(0, 0, days) }
		if _, err := Run(t.Context(), l, "s3://lakes/x", o); err != nil {
			t.Fatal(err)
		}
	}
	at(0)
	s := openStore(t, "s3://lakes/x", o.Env)
	other := "samples/data/month=2025-05/of-another-publisher.parquet"
	if err := store.PutBytes(t.Context(), s, other, []byte("not named yet")); err != nil {
		t.Fatal(err)
	}
	for _, days := range []int{9, -9, 1} {
		at(days)
		if _, err := s.Stat(t.Context(), other); err != nil {
			t.Errorf("by a clock %d days off: %v", days, err)
		}
		sameAsLake(t, l, s, "s3://lakes/x")
		log := iceTable(t, s, "s3://lakes/x", "samples").Metadata().Snapshots()
		for i := range log[1:] {
			if log[i+1].TimestampMs <= log[i].TimestampMs || log[i+1].SequenceNumber <= log[i].SequenceNumber {
				t.Errorf("by a clock %d days off: snapshots are out of order: %v", days, log)
			}
		}
	}
}

// Many nights make few manifests, and no file is lost on the way.
func TestManifestsAreMerged(t *testing.T) {
	s := openStore(t, filepath.Join(t.TempDir(), "out"), noEnv)
	location := "s3://fleet/lake"
	for night := 1; night <= 36; night++ {
		table, err := iceberg.Open(t.Context(), s, mustTable(t, "runs"), location+"/runs")
		if err != nil {
			t.Fatal(err)
		}
		add := iceberg.File{Name: fmt.Sprintf("runs/data/month=2025-%02d/%d.parquet", 1+night%12, night), Month: fmt.Sprintf("2025-%02d", 1+night%12), Rows: 50, Bytes: 1000}
		if err := table.Commit(t.Context(), iceberg.Change{Lake: int64(night), Add: []iceberg.File{add}, At: noon.Add(time.Duration(night) * time.Hour), Keep: time.Hour}); err != nil {
			t.Fatal(err)
		}
	}
	live, err := iceberg.Open(t.Context(), s, mustTable(t, "runs"), location+"/runs")
	if err != nil || len(live.Live()) != 36 {
		t.Errorf("%d live files after 36 nights: %v", len(live.Live()), err)
	}
	table := iceTable(t, s, location, "runs")
	fs, err := table.FS(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	manifests, err := table.CurrentSnapshot().Manifests(fs)
	if err != nil {
		t.Fatal(err)
	}
	files := 0
	for _, m := range manifests {
		files += int(m.AddedDataFiles() + m.ExistingDataFiles())
	}
	if len(manifests) > 5 || files != 36 {
		t.Errorf("%d manifests with %d files after 36 nights, want few with 36", len(manifests), files)
	}
	if n := table.CurrentSnapshot().Summary.Properties["total-records"]; n != fmt.Sprint(36*50) {
		t.Errorf("the summary says %s rows, want %d", n, 36*50)
	}
}
