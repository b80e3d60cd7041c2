package engine

import (
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/schema"
)

// A session of some vehicles has their runs, what belongs to those and their entries, in every view, whatever the files are named.
func TestPart(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 9, 4) // Of v0 to v6, v0 and v1 twice.
	writeTable(t, filepath.Join(snap.Root, "runs/b.parquet"), "runs", cells{"run_id": {id(9)}, "vehicle": {nil}})
	writeTable(t, filepath.Join(snap.Root, "unmapped/a.parquet"), "unmapped", cells{"run_id": {id(0), id(2)}, "name": {"x", "y"}, "t_s": {[]any{1.0, 2.0}, []any{3.0}}, "value": {[]any{5.0, 6.0}, []any{7.0}}})
	writeTable(t, filepath.Join(snap.Root, "findings/a.parquet"), "findings", cells{"run_id": {id(0), id(9), nil}, "code": {"a", "b", "refused"}})
	snap.Files["runs"] = append(snap.Files["runs"], "runs/b.parquet")
	snap.Files["unmapped"], snap.Files["findings"] = []string{"unmapped/a.parquet"}, []string{"findings/a.parquet"}
	for name, c := range map[string]struct {
		part                                       []string
		runs, samples, unmapped, findings, entries int64
	}{
		"all":             {nil, 10, 36, 3, 3, 2},
		"two":             {[]string{"v0", "v3"}, 3, 12, 2, 1, 1},
		"of no one":       {[]string{""}, 1, 0, 0, 1, 0},
		"one and of none": {[]string{"", "v2"}, 2, 4, 1, 1, 1},
		"one that is not": {[]string{"it's v9"}, 0, 0, 0, 0, 0},
		"none":            {[]string{}, 0, 0, 0, 0, 0},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t, snap, Options{Part: c.part, Vehicles: []schema.Vehicle{{ID: "v0"}, {ID: "v2"}}})
			got := ask(t, s, "SELECT (SELECT count(*) FROM runs), (SELECT count(*) FROM samples), (SELECT count(*) FROM unmapped), (SELECT count(*) FROM findings), (SELECT count(*) FROM vehicles), (SELECT count(*) FROM segments)")
			if d := cmp.Diff([][]any{{c.runs, c.samples, c.unmapped, c.findings, c.entries, int64(0)}}, got); d != "" {
				t.Error(d)
			}
			if _, err := s.Query(t.Context(), `SELECT * FROM "runs of the part"`); err == nil {
				t.Error("a statement may name the runs of the part")
			}
		})
	}
}
