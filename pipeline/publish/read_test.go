package publish

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	iceio "github.com/apache/iceberg-go/io"
	icetable "github.com/apache/iceberg-go/table"
	_ "github.com/duckdb/duckdb-go/v2" // A reader of Parquet that is not the one that writes.

	"dynolake/pipeline/lake"
	"dynolake/pipeline/publish/store"
	"dynolake/schema"
)

var oneDuck = sync.OnceValue(func() *sql.DB {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		panic(err)
	}
	if _, err := db.Exec("SET GLOBAL TimeZone = 'UTC'; SET threads = 1"); err != nil {
		panic(err)
	}
	return db
})

// digest sums up every column of a table over files: rows, and a hash of all values that no order of rows changes.
func digest(t *testing.T, table schema.Table, from string) string {
	t.Helper()
	cells := []string{"count(*)::VARCHAR"}
	for _, c := range table.Columns {
		cells = append(cells, fmt.Sprintf("coalesce(sum(hash(coalesce(CAST(%q AS VARCHAR), '~'))), 0)::VARCHAR", c.Name))
	}
	var out string
	if err := oneDuck().QueryRow("SELECT concat_ws(' ', " + strings.Join(cells, ", ") + ") FROM " + from).Scan(&out); err != nil {
		t.Fatalf("read %s: %v", table.Name, err)
	}
	return out
}

// byID is a FROM clause over files whose columns are matched by field id.
func byID(table schema.Table, files []string) string {
	kinds := map[string]string{"float32": "FLOAT", "float64": "DOUBLE", "int32": "INTEGER", "int64": "BIGINT", "string": "VARCHAR", "bool": "BOOLEAN",
		"timestamp": "TIMESTAMPTZ", "list_float64": "DOUBLE[]", "list_string": "VARCHAR[]"}
	columns := []string{}
	empty := []string{}
	for _, c := range table.Columns {
		columns = append(columns, fmt.Sprintf("%d: {name: '%s', type: '%s', default_value: NULL}", c.ID, c.Name, kinds[c.Type]))
		empty = append(empty, fmt.Sprintf("NULL::%s AS %q", kinds[c.Type], c.Name))
	}
	if len(files) == 0 {
		return "(SELECT " + strings.Join(empty, ", ") + " WHERE false)"
	}
	return fmt.Sprintf("read_parquet(['%s'], schema = MAP {%s}, hive_partitioning = false)", strings.Join(files, "', '"), strings.Join(columns, ", "))
}

// lakeDigests sums up every table of the lake.
func lakeDigests(t *testing.T, l *lake.Lake) map[string]string {
	t.Helper()
	s, err := l.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, table := range schema.Tables() {
		var files []string
		for _, f := range s.Files[table.Name] {
			files = append(files, filepath.Join(s.Root, f))
		}
		out[table.Name] = digest(t, table, byID(table, files))
	}
	return out
}

// overStore lets the Iceberg library read through a store.
type overStore struct {
	store    store.Store
	location string
}

func (o overStore) Open(uri string) (iceio.File, error) {
	text, err := o.store.Read(context.Background(), strings.TrimPrefix(uri, o.location+"/"))
	if errors.Is(err, store.ErrNone) {
		err = fs.ErrNotExist
	}
	return memory{Reader: bytes.NewReader(text), name: uri}, err
}

func (o overStore) Remove(string) error { return errors.New("read only") }

type memory struct {
	*bytes.Reader
	name string
}

func (m memory) Close() error               { return nil }
func (m memory) Stat() (fs.FileInfo, error) { return m, nil }
func (m memory) Name() string               { return m.name }
func (m memory) Size() int64                { return m.Reader.Size() }
func (m memory) Mode() fs.FileMode          { return 0o444 }
func (m memory) ModTime() time.Time         { return noon }
func (m memory) IsDir() bool                { return false }
func (m memory) Sys() any                   { return nil }

// iceTable opens a published table with the Iceberg library, from where version-hint.text points.
func iceTable(t *testing.T, s store.Store, location, name string) *icetable.Table {
	t.Helper()
	hint, err := s.Read(t.Context(), name+"/metadata/version-hint.text")
	if err != nil {
		t.Fatal(err)
	}
	return iceAt(t, s, location, name, fmt.Sprintf("%s/%s/metadata/v%s.metadata.json", location, name, hint))
}

// pointed opens it from where current.json points.
func pointed(t *testing.T, s store.Store, location, name string) *icetable.Table {
	t.Helper()
	text, err := s.Read(t.Context(), currentName)
	if err != nil {
		t.Fatal(err)
	}
	var c current
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	return iceAt(t, s, location, name, c.Tables[name])
}

func iceAt(t *testing.T, s store.Store, location, name, metadata string) *icetable.Table {
	t.Helper()
	io := overStore{store: s, location: location}
	table, err := icetable.NewFromLocation(t.Context(), []string{name}, metadata, func(context.Context) (iceio.IO, error) { return io, nil }, nil)
	if err != nil {
		t.Fatalf("table %s: %v", name, err)
	}
	return table
}

// iceFiles plans a scan of a table and brings the data files to a folder here: their paths.
func iceFiles(t *testing.T, s store.Store, location string, table *icetable.Table) []string {
	t.Helper()
	tasks, err := table.Scan().PlanFiles(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var files []string
	dir := t.TempDir()
	for i, task := range tasks {
		name := strings.TrimPrefix(task.File.FilePath(), location+"/")
		text, err := s.Read(t.Context(), name)
		if err != nil {
			t.Fatal(err)
		}
		if int64(len(text)) != task.File.FileSizeBytes() {
			t.Errorf("%s has %d bytes, its manifest says %d", name, len(text), task.File.FileSizeBytes())
		}
		path := filepath.Join(dir, fmt.Sprint(i, ".parquet"))
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		files = append(files, path)
	}
	return files
}

// sameAsLake holds every published Iceberg table to the lake.
func sameAsLake(t *testing.T, l *lake.Lake, s store.Store, location string) {
	t.Helper()
	want := lakeDigests(t, l)
	for _, def := range schema.Tables() {
		table := iceTable(t, s, location, def.Name)
		if got := digest(t, def, byID(def, iceFiles(t, s, location, table))); got != want[def.Name] {
			t.Errorf("table %s: published\n%s\nthe lake\n%s", def.Name, got, want[def.Name])
		}
	}
}

// globbed holds plain Parquet, read by pattern and by name, to the lake.
func globbed(t *testing.T, l *lake.Lake, dest string) {
	t.Helper()
	want := lakeDigests(t, l)
	for _, def := range schema.Tables() {
		from := fmt.Sprintf("read_parquet('%s/%s/month=*/*.parquet', union_by_name = true, hive_partitioning = true)", dest, def.Name)
		if got := digest(t, def, from); got != want[def.Name] {
			t.Errorf("table %s: published\n%s\nthe lake\n%s", def.Name, got, want[def.Name])
		}
	}
}

func openStore(t *testing.T, dest string, env func(string) string) store.Store {
	t.Helper()
	s, err := store.Open(dest, env)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func noEnv(string) string { return "" }
