package engine

import (
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"dynolake/schema"
)

// A renewed session answers as it did, of the whole lake and of a part, whether its curves are laid out or not, and is locked as before.
func TestRenew(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 9, 4)
	curve := cells{}
	for i := range 9 {
		for name, v := range map[string]any{"run_id": id(i), "segment_id": int32(0), "axis": "engine_speed_rpm", "bin": 1525.0, "boost_kpa": float32(i)} {
			curve[name] = append(curve[name], v)
		}
	}
	writeTable(t, filepath.Join(snap.Root, "curves/a.parquet"), "curves", curve)
	snap.Files["curves"] = []string{"curves/a.parquet"}
	for name, part := range map[string][]string{"all": nil, "few": {"v2"}, "many": {"v0", "v1", "v2", "v3"}, "none": {}} {
		s := open(t, snap, Options{Part: part, Vehicles: []schema.Vehicle{{ID: "v2"}}, Columns: []UserColumn{{Name: "twice", Formula: "2 * boost_kpa"}}})
		const statement = "SELECT (SELECT sum(twice) FROM curves), (SELECT count(*) FROM runs), (SELECT count(*) FROM samples), (SELECT count(*) FROM vehicles), (SELECT quantile_of(boost_kpa, 0.5) FROM curves)"
		was := ask(t, s, statement)
		for range 2 {
			if err := s.Renew(t.Context()); err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(was, ask(t, s, statement)); d != "" {
				t.Errorf("%s: %s", name, d)
			}
		}
		conn, err := s.db.connect()
		if err != nil {
			t.Fatal(err)
		}
		if err := conn.run(t.Context(), "SET GLOBAL enable_external_access = true"); err == nil {
			t.Errorf("%s: the settings are open", name)
		}
		if err := conn.run(t.Context(), "COPY (SELECT 1) TO "+text(filepath.Join(t.TempDir(), "a.csv"))); err == nil {
			t.Errorf("%s: a file outside was written", name)
		}
		conn.close()
	}
	given := openGiven(t, nil)
	if err := given.Renew(t.Context()); err != nil {
		t.Fatal(err)
	}
	ask(t, given, "SELECT count(*) FROM runs")
}
