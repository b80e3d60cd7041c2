package lake

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2" // A reader of Parquet that is neither the one that writes nor the one that verifies.

	"dynolake/schema"
)

func duckType(kind string) string {
	return map[string]string{"float32": "FLOAT", "float64": "DOUBLE", "int32": "INTEGER", "int64": "BIGINT", "string": "VARCHAR", "bool": "BOOLEAN",
		"timestamp": "TIMESTAMPTZ", "list_float64": "DOUBLE[]", "list_string": "VARCHAR[]"}[kind]
}

// duckTable is a FROM clause over a table's live files by field id, and a SELECT list that casts each column to text.
func duckTable(s schema.Snapshot, t schema.Table) (from, list string) {
	var files, columns, cells []string
	for _, f := range s.Files[t.Name] {
		files = append(files, "'"+filepath.Join(s.Root, f)+"'")
	}
	for _, c := range t.Columns {
		columns = append(columns, fmt.Sprintf("%d: {name: '%s', type: '%s', default_value: NULL}", c.ID, c.Name, duckType(c.Type)))
		cells = append(cells, fmt.Sprintf("coalesce(CAST(%q AS VARCHAR), '~')", c.Name))
	}
	return fmt.Sprintf("read_parquet([%s], schema = MAP {%s}, hive_partitioning = false)", strings.Join(files, ", "), strings.Join(columns, ", ")),
		strings.Join(cells, ", ")
}

func duck(t testing.TB) *sql.DB {
	t.Helper()
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	if _, err := db.Exec("SET TimeZone = 'UTC'; SET threads = 1"); err != nil {
		t.Fatal(err)
	}
	return db
}

// oneDuck is a session for all dumps: opening one takes longer than reading a small lake.
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

// dump gives every row of every table as text, sorted: what a reader can see of a lake.
func dump(t testing.TB, l *Lake) map[string][]string {
	t.Helper()
	s, err := l.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	db, all := oneDuck(), map[string][]string{}
	for _, table := range schema.Tables() {
		if len(s.Files[table.Name]) > 0 {
			all[table.Name] = texts(t, db, s, table)
		}
	}
	return all
}

// texts reads a table's rows as lines of cells.
func texts(t testing.TB, db *sql.DB, s schema.Snapshot, table schema.Table) []string {
	t.Helper()
	from, list := duckTable(s, table)
	rows, err := db.Query("SELECT concat_ws('|', " + list + ") FROM " + from)
	if err != nil {
		t.Fatalf("%s: %v", table.Name, err)
	}
	defer func() { _ = rows.Close() }()
	var lines []string
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			t.Fatal(err)
		}
		lines = append(lines, line)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	slices.Sort(lines)
	return lines
}

func tableOf(name string) schema.Table {
	t, _ := schema.LookupTable(name)
	return t
}
