package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"dynolake/cmd/dynolake/demo"
	"dynolake/pipeline/disk"
)

// BenchmarkGrowth shows what lakes of different sizes take: a row for each number of runs that DYNOLAKE_BENCH_RUNS lists (10 where nothing is), of the demo's
// logs: time to take them in, to make the tables and the report, and bytes. A lake that is there already is measured for its bytes by naming it in DYNOLAKE_BENCH_LAKE.
func BenchmarkGrowth(b *testing.B) {
	list := os.Getenv("DYNOLAKE_BENCH_RUNS")
	if list == "" {
		list = "10"
	}
	g := &goals{b: b, dir: b.TempDir()}
	g.program, g.alone = filepath.Join(g.dir, "dynolake"), filepath.Join(g.dir, "alone")
	process(b, "go", "build", "-o", g.program, ".")
	process(b, "go", "build", "-o", g.alone, "./testdata/alone")
	fmt.Print("\n| runs | rows | ingest, wall | processor | tables and report, wall | processor | samples, live files | curves | all tables | archive |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n")
	for field := range strings.SplitSeq(list, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(field))
		if err != nil || n < 1 {
			b.Fatalf("read DYNOLAKE_BENCH_RUNS %q: want numbers with commas between them", list)
		}
		g.grown(n)
	}
	if root := os.Getenv("DYNOLAKE_BENCH_LAKE"); root != "" {
		g.lake = root
		g.sized("–", "–", "–", "–")
	}
}

// runsOfRepeat is how many runs a repeat of the demo's visits has.
const runsOfRepeat = 94

// grown makes a lake of n runs and tells what it took.
func (g *goals) grown(n int) {
	g.lake = filepath.Join(g.dir, fmt.Sprint("lake", n))
	process(g.b, g.program, "--lake", g.lake, "init")
	model, stated := demo.Default(), filepath.Join(g.dir, "stated")
	model.Scale = 1 + n/runsOfRepeat
	if err := errors.Join(model.WriteConfig(stated), installConfig(disk.OS(), filepath.Join(stated, "config"), filepath.Join(g.lake, "config"))); err != nil {
		g.b.Fatal(err)
	}
	var in spent
	for took, repeat := 0, 0; took < n; repeat++ {
		dir := filepath.Join(g.dir, "part")
		if err := model.WriteRepeat(g.b.Context(), dir, repeat); err != nil {
			g.b.Fatal(err)
		}
		part := filepath.Join(g.dir, "first")
		more, err := firstRuns(filepath.Join(dir, "logs"), part, n-took)
		if err != nil || more == 0 {
			g.b.Fatalf("lay out logs: %d, %v", more, err)
		}
		s := process(g.b, g.program, "--lake", g.lake, "ingest", "--quiet", part)
		in.wall, in.cpu, took = in.wall+s.wall, in.cpu+s.cpu, took+more
		if err := os.RemoveAll(part); err != nil {
			g.b.Fatal(err)
		}
		if err := os.RemoveAll(dir); err != nil {
			g.b.Fatal(err)
		}
	}
	tables := process(g.b, g.program, "--lake", g.lake, "refresh", "--quiet")
	g.sized(duration(in.wall), duration(in.cpu), duration(tables.wall), duration(tables.cpu))
}

// sized prints a lake's row.
func (g *goals) sized(took ...string) {
	rows := g.number("SELECT sum(num_rows) FROM parquet_file_metadata([" + strings.Join(g.files("samples"), ", ") + "])")
	all := 0.0
	for _, t := range tableFolders() {
		all += g.megabytes(t)
	}
	archive := 0.0
	err := filepath.WalkDir(filepath.Join(g.lake, "archive"), func(_ string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			if info, e := d.Info(); e == nil {
				archive += float64(info.Size()) / 1e6
			}
		}
		return err
	})
	if err != nil {
		g.b.Fatal(err)
	}
	fmt.Printf("| %.0f | %.0f | %s | %.1f MB in %d | %.1f MB | %.1f MB | %.1f MB |\n", g.runs(g.lake), rows, strings.Join(took, " | "),
		g.megabytes("samples"), len(g.files("samples")), g.megabytes("curves"), all, archive)
}

// megabytes of a table's live files.
func (g *goals) megabytes(table string) float64 {
	sum := 0.0
	for _, f := range g.files(table) {
		info, err := os.Stat(strings.Trim(f, "'"))
		if err != nil {
			g.b.Fatal(err)
		}
		sum += float64(info.Size()) / 1e6
	}
	return sum
}
