package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/schema"
)

func tableFolders() []string {
	var names []string
	for _, t := range schema.Tables() {
		names = append(names, t.Name)
	}
	return names
}

// linkedProgram is an empty one that the engine's library is linked into.
func linkedProgram(g *goals) string {
	dir := filepath.Join(g.dir, "linked")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		g.b.Fatal(err)
	}
	text := "package main\n\nimport _ \"github.com/duckdb/duckdb-go-bindings\"\n\nfunc main() {}\n"
	if err := os.WriteFile(filepath.Join(dir, "main.go"), []byte(text), 0o644); err != nil {
		g.b.Fatal(err)
	}
	process(g.b, "go", "build", "-o", filepath.Join(dir, "linked"), filepath.Join(dir, "main.go"))
	return filepath.Join(dir, "linked")
}

// script writes what the engine alone runs for a pack: the macros, the same views over the same files, the same statement.
func (g *goals) script(name, statement string) string {
	parts := []string{"SET TimeZone = 'UTC'", "SET parquet_metadata_cache = true", "SET ieee_floating_point_ops = false", engine.MacrosSQL()}
	for _, t := range schema.Tables() {
		parts = append(parts, g.view(t, g.files(t.Name)))
	}
	for _, view := range []string{"vehicles", "limits"} {
		file := filepath.Join(g.dir, view+".parquet")
		if _, err := os.Stat(file); errors.Is(err, os.ErrNotExist) {
			process(g.b, g.program, "--lake", g.lake, "query", "--sql", "select * from "+view, "--out", file)
		}
		parts = append(parts, fmt.Sprintf("CREATE VIEW %s AS SELECT * FROM '%s'", view, file))
	}
	return g.scriptOf(strings.ReplaceAll(name, "/", "_"), append(parts, statement)...)
}

func (g *goals) scriptOf(name string, parts ...string) string {
	file := filepath.Join(g.dir, name+".sql")
	if err := os.WriteFile(file, []byte(strings.Join(parts, "\n----\n")), 0o644); err != nil {
		g.b.Fatal(err)
	}
	return file
}

// files lists a table's live files.
func (g *goals) files(table string) []string {
	l, err := lake.Open(g.b.Context(), g.lake)
	if err != nil {
		g.b.Fatal(err)
	}
	defer func() { _ = l.Close() }()
	snap, err := l.Snapshot(g.b.Context())
	if err != nil {
		g.b.Fatal(err)
	}
	root, err := filepath.Abs(snap.Root)
	if err != nil {
		g.b.Fatal(err)
	}
	var list []string
	for _, f := range snap.Files[table] {
		list = append(list, "'"+filepath.Join(root, filepath.FromSlash(f))+"'")
	}
	return list
}

// view gives a table's columns by their field ids, NULL where a file has none: all-null columns are left out of files.
func (g *goals) view(t schema.Table, files []string) string {
	var names, ids []string
	for _, c := range t.Columns {
		name, kind := `"`+c.Name+`"`, map[string]string{"float32": "FLOAT", "float64": "DOUBLE", "int32": "INTEGER", "int64": "BIGINT", "bool": "BOOLEAN",
			"timestamp": "TIMESTAMP WITH TIME ZONE", "list_float64": "DOUBLE[]", "list_string": "VARCHAR[]"}[c.Type]
		if kind == "" {
			kind = "VARCHAR"
		}
		if strings.HasPrefix(c.Type, "list_") {
			name = "unnest(" + name + ") AS " + name
		}
		names, ids = append(names, name), append(ids, fmt.Sprintf("%d: {name: '%s', type: '%s', default_value: NULL}", c.ID, c.Name, kind))
	}
	if len(files) == 0 {
		return "SELECT 1"
	}
	return fmt.Sprintf("CREATE VIEW %s AS SELECT %s FROM read_parquet([%s], schema = MAP {%s})", t.Name, strings.Join(names, ", "), strings.Join(files, ", "), strings.Join(ids, ", "))
}

// sorted lays the lake's samples out in n files, in the order of run and time that they have, and gives the script that groups them and the number of rows.
func (g *goals) sorted(n int) (script string, rows float64) {
	table, _ := schema.LookupTable("samples")
	files := g.files("samples")
	n = min(n, len(files))
	paths := make([]string, n)
	for i := range n {
		paths[i] = filepath.Join(g.dir, fmt.Sprintf("sorted%02d.parquet", i))
		part := g.view(table, files[i*len(files)/n:(i+1)*len(files)/n])
		process(g.b, g.alone, g.scriptOf("sort", part, fmt.Sprintf("COPY (SELECT run_id, t_s, engine_speed_rpm FROM samples) TO '%s' (FORMAT parquet, COMPRESSION zstd)", paths[i])))
		paths[i] = "'" + paths[i] + "'"
	}
	all := "read_parquet([" + strings.Join(paths, ", ") + "])"
	return g.scriptOf("group", strings.Replace(groupBySQL, "samples", all, 1)), g.number("SELECT count(*) FROM " + all)
}

// number asks the engine alone for one.
func (g *goals) number(statement string) float64 {
	out, err := exec.CommandContext(g.b.Context(), g.alone, g.scriptOf("number", statement)).Output()
	if err != nil {
		g.b.Fatal(err)
	}
	cells, err := csv.NewReader(strings.NewReader(string(out))).ReadAll()
	if err != nil || len(cells) != 2 {
		g.b.Fatalf("%q: %v", out, err)
	}
	x, err := strconv.ParseFloat(cells[1][0], 64)
	if err != nil {
		g.b.Fatal(err)
	}
	return x
}

// bytes is what a stored value takes of the samples' files.
func (g *goals) bytes() {
	if !strings.Contains("bytes a stored value", os.Getenv("DYNOLAKE_BENCH_ONLY")) {
		return
	}
	x := g.number("SELECT sum(total_compressed_size) / sum(num_values - coalesce(stats_null_count, 0)) FROM parquet_metadata([" + strings.Join(g.files("samples"), ", ") + "])")
	g.add(goal{work: "bytes a stored value of samples", peer: "–", wall: []float64{x}, wanted: 1.7, what: " B"})
}
