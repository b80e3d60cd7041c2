package publish

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/parquet-go/parquet-go"

	"dynolake/schema"
)

func TestPlainParquetHoldsTheLake(t *testing.T) {
	l := stocked(t)
	dest := filepath.Join(t.TempDir(), "out")
	publishTo(t, l, dest, Parquet)
	globbed(t, l, dest)
	listed(t, dest)
	if r := publishTo(t, l, dest, Parquet); r.New() {
		t.Errorf("nothing is new, and it reports %+v", r)
	}
	commit(t, l, invent(2, 5, "van-z"), invent(4, 4, "van-a"))
	publishTo(t, l, dest, Parquet)
	globbed(t, l, dest)
	listed(t, dest)
	compactAll(t, l)
	r := publishTo(t, l, dest, Parquet)
	globbed(t, l, dest)
	listed(t, dest)
	for _, m := range r.Tables {
		if m.Table == "samples" && (m.Files != 3 || m.Rows != 200) { // A file a month.
			t.Errorf("samples has %d files with %d rows, want 3 with 200", m.Files, m.Rows)
		}
	}
	var wrong int
	err := oneDuck().QueryRow("SELECT count(*) FROM read_parquet('" + dest + "/runs/month=*/*.parquet', union_by_name = true, hive_partitioning = true) " +
		"WHERE month IS DISTINCT FROM coalesce(strftime(started_at, '%Y-%m'), 'unknown')").Scan(&wrong)
	if err != nil || wrong != 0 {
		t.Errorf("%d runs lie in another month's folder: %v", wrong, err)
	}
}

// listed holds the manifest to the files that are there, by another implementation of Parquet.
func listed(t *testing.T, dest string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dest, manifestName))
	if err != nil {
		t.Fatal(err)
	}
	var m manifest
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatal(err)
	}
	names := m.names()
	for _, table := range schema.Tables() {
		found, err := filepath.Glob(filepath.Join(dest, table.Name, "month=*", "*.parquet"))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range found {
			rel, err := filepath.Rel(dest, path)
			if err != nil || !names[filepath.ToSlash(rel)] {
				t.Errorf("%s is in no manifest: %v", rel, err)
			}
			delete(names, filepath.ToSlash(rel))
		}
		for _, f := range m.Tables[table.Name].Files {
			if got := rowsOf(t, filepath.Join(dest, f.Path)); got != f.Rows {
				t.Errorf("%s has %d rows, its manifest says %d", f.Path, got, f.Rows)
			}
		}
	}
	if len(names) > 0 {
		t.Errorf("the manifest names files that are not there: %v", names)
	}
}

func rowsOf(t *testing.T, path string) int64 {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	p, err := parquet.OpenFile(f, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	return p.NumRows()
}

// A lake without runs is published with all of its columns and no rows.
func TestAnEmptyLakeIsPublished(t *testing.T) {
	l := newLake(t)
	dir := t.TempDir()
	publishTo(t, l, filepath.Join(dir, "hive"), Parquet)
	globbed(t, l, filepath.Join(dir, "hive"))
	r := publishTo(t, l, filepath.Join(dir, "ice"), Iceberg)
	s := openStore(t, filepath.Join(dir, "ice"), noEnv)
	sameAsLake(t, l, s, r.URI)
	commit(t, l, invent(1, 4, "van-a"))
	publishTo(t, l, filepath.Join(dir, "ice"), Iceberg)
	sameAsLake(t, l, s, r.URI)
}
