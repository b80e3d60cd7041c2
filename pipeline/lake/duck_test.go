package lake

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	_ "github.com/duckdb/duckdb-go/v2"

	"dynolake/schema"
)

func duckType(kind string) string {
	return map[string]string{"float32": "FLOAT", "float64": "DOUBLE", "int32": "INTEGER", "int64": "BIGINT", "string": "VARCHAR", "bool": "BOOLEAN",
		"timestamp": "TIMESTAMPTZ", "list_float64": "DOUBLE[]", "list_string": "VARCHAR[]"}[kind]
}

// duckTable is a FROM clause over a table's live files by field id.
func duckTable(s schema.Snapshot, t schema.Table) string {
	var files, columns []string
	for _, f := range s.Files[t.Name] {
		files = append(files, "'"+filepath.Join(s.Root, f)+"'")
	}
	for _, c := range t.Columns {
		columns = append(columns, fmt.Sprintf("%d: {name: '%s', type: '%s', default_value: NULL}", c.ID, c.Name, duckType(c.Type)))
	}
	return fmt.Sprintf("read_parquet([%s], schema = MAP {%s}, hive_partitioning = false)", strings.Join(files, ", "), strings.Join(columns, ", "))
}

func TestDuckLists(t *testing.T) {
	l := newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 30, "a")}})
	s, err := l.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("duckdb", "")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, table := range schema.Tables() {
		rows, err := db.Query("SELECT * FROM " + duckTable(s, table) + " LIMIT 3")
		if err != nil {
			t.Errorf("%s: %v", table.Name, err)
			continue
		}
		cols, _ := rows.Columns()
		for rows.Next() {
			v := make([]any, len(cols))
			p := make([]any, len(cols))
			for i := range v {
				p[i] = &v[i]
			}
			if err := rows.Scan(p...); err != nil {
				t.Error(err)
			}
			t.Log(table.Name, v)
		}
		if err := rows.Err(); err != nil {
			t.Error(table.Name, err)
		}
		rows.Close()
	}
}
