package engine

import (
	"os"
	"path/filepath"
	"strings"
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
	curve := cells{}
	for i := range 10 {
		for bin := range 3 {
			for name, v := range map[string]any{"run_id": id(i), "segment_id": int32(0), "axis": "engine_speed_rpm", "bin": float64(1525 + 50*bin), "boost_kpa": float32(10*i + bin)} {
				curve[name] = append(curve[name], v)
			}
		}
	}
	writeTable(t, filepath.Join(snap.Root, "curves/a.parquet"), "curves", curve)
	snap.Files["curves"] = []string{"curves/a.parquet"}
	snap.Files["runs"] = append(snap.Files["runs"], "runs/b.parquet")
	snap.Files["unmapped"], snap.Files["findings"] = []string{"unmapped/a.parquet"}, []string{"findings/a.parquet"}
	own := []UserColumn{{Name: "twice", Formula: "2 * boost_kpa"}}
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
			s := open(t, snap, Options{Part: c.part, Vehicles: []schema.Vehicle{{ID: "v0"}, {ID: "v2"}}, Columns: own})
			got := ask(t, s, "SELECT (SELECT count(*) FROM runs), (SELECT count(*) FROM samples), (SELECT count(*) FROM unmapped), (SELECT count(*) FROM findings), (SELECT count(*) FROM vehicles), (SELECT count(*) FROM segments)")
			if d := cmp.Diff([][]any{{c.runs, c.samples, c.unmapped, c.findings, c.entries, int64(0)}}, got); d != "" {
				t.Error(d)
			}
			const reckoned = "SELECT c.*, typeof(c.boost_kpa), typeof(c.bin), typeof(c.regen_frac) FROM curves c JOIN runs USING (run_id) ORDER BY run_id, bin"
			if d := cmp.Diff(ask(t, open(t, snap, Options{Columns: own}), strings.Replace(reckoned, "ORDER", part(c.part).where("runs")+" ORDER", 1)), ask(t, s, reckoned)); d != "" {
				t.Errorf("curves of the whole lake and of the part: %s", d)
			}
			if _, err := os.Stat(filepath.Join(s.temp, "curves-0.parquet")); (err == nil) != (c.part != nil && c.runs <= 2) {
				t.Errorf("curves laid out: %v", err)
			}
			if _, err := s.Query(t.Context(), `SELECT * FROM "runs of the part"`); err == nil {
				t.Error("a statement may name the runs of the part")
			}
		})
	}
}

// Of a file of more than one row group the vehicle's stretches are read alone; what comes out is what the whole lake has of it.
func TestExtents(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 21, 1) // Of v0 to v6, three times.
	const each = 3000
	large := cells{}
	for _, i := range []int{0, 7, 14, 1, 8, 2, 9, 15, 3, 10, 4, 11, 16} { // Those of v1 and v2 lie at two places each.
		for bin := range each {
			for name, v := range map[string]any{"run_id": id(i), "segment_id": int32(0), "axis": "engine_speed_rpm", "bin": float64(25 + 50*bin), "boost_kpa": float32(i + bin)} {
				large[name] = append(large[name], v)
			}
		}
	}
	small := cells{"run_id": {id(5), id(18), id(6)}, "segment_id": {int32(0), int32(0), int32(0)}, "axis": {"engine_speed_rpm", "engine_speed_rpm", "engine_speed_rpm"}, "bin": {25.0, 25.0, 25.0}}
	writeTable(t, filepath.Join(snap.Root, "curves/large.parquet"), "curves", large)
	writeTable(t, filepath.Join(snap.Root, "curves/small.parquet"), "curves", small)
	snap.Files["curves"] = []string{"curves/large.parquet", "curves/small.parquet"}
	for vehicle, want := range map[string]struct{ files, rows int64 }{"v0": {1, 3 * each}, "v1": {2, 3 * each}, "v2": {2, 3 * each}, "v4": {2, 2*each + 1}, "v5": {1, 1}, "v9": {1, 0}} {
		s := open(t, snap, Options{Part: []string{vehicle}})
		laid, err := filepath.Glob(filepath.Join(s.temp, "curves-*.parquet"))
		if err != nil || int64(len(laid)) != want.files {
			t.Errorf("%s: %d files, want %d: %v", vehicle, len(laid), want.files, err)
		}
		const reckoned = "SELECT count(*), sum(boost_kpa), max(bin), min(run_id), max(run_id) FROM curves"
		got := ask(t, s, reckoned)
		if got[0][0] != want.rows {
			t.Errorf("%s: %v rows, want %d", vehicle, got[0][0], want.rows)
		}
		whole := ask(t, open(t, snap, Options{}), reckoned+" JOIN runs USING (run_id) WHERE vehicle = '"+vehicle+"'")
		if d := cmp.Diff(whole, got); d != "" {
			t.Errorf("%s: curves of the whole lake and of the part: %s", vehicle, d)
		}
	}
}
