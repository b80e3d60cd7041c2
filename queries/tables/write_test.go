package tables

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/pipeline/disk"
	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/schema"
)

// shop is a lake of given rows with three queries of the user's: on runs, on limits, and one that fails.
func shop(t *testing.T) Job {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"mine/runs.sql":   "-- title: Runs\nSELECT run_id, vehicle FROM runs ORDER BY run_id",
		"mine/limits.sql": "-- title: Limits\nSELECT * FROM limits",
		"mine/broken.sql": "-- title: Broken\nSELECT vehicel FROM runs",
	} {
		if err := os.MkdirAll(filepath.Join(dir, "mine"), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	set, err := packs.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	job := Job{Root: t.TempDir(), Data: "one", Disk: disk.OS()}
	job.Snapshot = schema.Snapshot{Files: map[string][]string{"runs": {"runs/a.parquet"}}}
	for _, p := range set.All() {
		if p.User {
			statement, err := p.SQL(nil)
			if err != nil {
				t.Fatal(err)
			}
			job.Queries = append(job.Queries, Query{Pack: p, Statement: statement})
		}
	}
	return job
}

// written writes the job's tables, with the rows and limits as they are.
func written(t *testing.T, job Job, books map[string]Book) Result {
	t.Helper()
	job.Open = func(ctx context.Context, _ []string, _ int64) (*engine.Session, error) {
		given := map[string]engine.Rows{"runs": {Columns: []string{"run_id", "vehicle"}, Values: [][]any{{"b", "van, x"}, {"a", nil}}}}
		return engine.OpenTables(ctx, given, engine.Options{Limits: job.Limits})
	}
	res, err := Write(t.Context(), job, books)
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(res.Computed)
	return res
}

// Only what has changed is computed: all at first, nothing the next time, the limits' table after an edit of limits, a table that somebody damaged.
func TestWrite(t *testing.T) {
	job := shop(t)
	res := written(t, job, nil)
	if d := cmp.Diff([]string{"mine_limits", "mine_runs"}, res.Computed); d != "" || !res.Changed {
		t.Error(d)
	}
	if len(res.Problems) != 1 || !strings.Contains(res.Problems[0].Error(), "broken.sql:2:8: there is no column \"vehicel\"") {
		t.Errorf("problems: %v", res.Problems)
	}
	text, err := os.ReadFile(filepath.Join(job.Root, Folder, "mine_runs.csv"))
	if err != nil || string(text) != "run_id,vehicle\na,\nb,\"van, x\"\n" {
		t.Errorf("mine_runs.csv is %q, %v", text, err)
	}
	if m := ReadManifest(job.Root); m.Data != "one" || len(m.Tables) != 2 || m.Tables[1].Rows != 2 {
		t.Errorf("manifest: %+v", m)
	}
	if res = written(t, job, res.Books); len(res.Computed) > 0 || res.Changed || len(res.Kept) != 2 {
		t.Errorf("nothing new: %+v", res)
	}
	job.Limits = []schema.Limit{{Column: "boost_kpa", Max: 200}}
	res = written(t, job, res.Books)
	if d := cmp.Diff([]string{"mine_limits"}, res.Computed); d != "" || !res.Changed {
		t.Errorf("edited limits: %s", d)
	}
	if err := os.WriteFile(filepath.Join(job.Root, Folder, "mine_runs.csv"), []byte("mine now"), 0o644); err != nil {
		t.Fatal(err)
	}
	res = written(t, job, res.Books)
	if d := cmp.Diff([]string{"mine_runs"}, res.Computed); d != "" {
		t.Errorf("damaged table: %s", d)
	}
	job.Snapshot.Files["runs"] = []string{"runs/a.parquet", "runs/b.parquet"}
	if res = written(t, job, res.Books); !slices.Contains(res.Computed, "mine_runs") || slices.Contains(res.Computed, "mine_limits") || res.Changed {
		t.Errorf("new files that give the same rows: %+v", res)
	}
}

// What a kill left goes: a folder that was begun, and old tables that wait for their place.
func TestTidy(t *testing.T) {
	job := shop(t)
	res := written(t, job, nil)
	if err := os.Rename(filepath.Join(job.Root, Folder), filepath.Join(job.Root, oldName)); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(job.Root, newPrefix+"123"), 0o755); err != nil {
		t.Fatal(err)
	}
	if res = written(t, job, res.Books); len(res.Computed) > 0 || len(res.Kept) != 2 {
		t.Errorf("the old tables are not back: %+v", res)
	}
	list, err := os.ReadDir(job.Root)
	if err != nil || len(list) != 1 || list[0].Name() != Folder {
		t.Errorf("left: %v, %v", list, err)
	}
	if err := inTwoSteps(job.Disk, job.Root, filepath.Join(job.Root, "none"), filepath.Join(job.Root, Folder)); err == nil || ReadManifest(job.Root).Data != "one" {
		t.Errorf("a failed exchange: %v", err)
	}
}
