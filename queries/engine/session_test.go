package engine

import (
	"database/sql"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/google/go-cmp/cmp"

	"dynolake/schema"
)

// A folder may be called anything; none of it is a pattern, and only the listed files are read.
func TestOpenReadsTheListedFilesAlone(t *testing.T) {
	for _, name := range []string{"lake", "it's a [lake]", "la*ke?", `back\slash`, "[a-b]", "{a,b}", "ünïcode €"} {
		t.Run(name, func(t *testing.T) {
			root := t.TempDir()
			for _, near := range []string{"la--ke!", "a", "b"} { // What a pattern would find as well.
				writeRuns(t, filepath.Join(root, near), 3, 10)
			}
			snap := writeRuns(t, filepath.Join(root, name), 3, 10)
			snap.Files["samples"] = snap.Files["samples"][:2] // The third file is there and not live.
			s := open(t, snap, Options{})
			if got := ask(t, s, "SELECT count(*), count(DISTINCT run_id), count(boost_kpa), count(map_kpa) FROM samples"); !cmp.Equal(got, [][]any{{int64(20), int64(2), int64(20), int64(0)}}) {
				t.Errorf("got %v", got)
			}
			if got := ask(t, s, "SELECT count(*), min(year(started_at)) FROM runs"); !cmp.Equal(got, [][]any{{int64(3), int64(2026)}}) {
				t.Errorf("got %v", got)
			}
		})
	}
}

func TestALakeBehindALink(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 2, 3)
	link := filepath.Join(t.TempDir(), "link")
	if err := os.Symlink(snap.Root, link); err != nil {
		t.Fatal(err)
	}
	snap.Root = link
	s := open(t, snap, Options{})
	if got := ask(t, s, "SELECT count(*) FROM samples JOIN runs USING (run_id)"); !cmp.Equal(got, [][]any{{int64(6)}}) {
		t.Errorf("got %v", got)
	}
}

// A file that is gone or damaged is named by the query that needs it; the others answer.
func TestALostFileIsNamed(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 3, 3)
	s := open(t, snap, Options{})
	lost := filepath.Join(snap.Root, snap.Files["samples"][1])
	for _, c := range []struct {
		what string
		do   func() error
	}{
		{"damaged", func() error { return os.WriteFile(lost, []byte("PAR1 and no more"), 0o644) }},
		{"gone", func() error { return os.Remove(lost) }},
	} {
		if err := c.do(); err != nil {
			t.Fatal(err)
		}
		rows, err := s.Query(t.Context(), "SELECT sum(boost_kpa) FROM samples")
		if err == nil {
			_, err = rows.All()
		}
		if err == nil || !strings.Contains(err.Error(), filepath.Base(lost)) {
			t.Errorf("%s: got %v, want the file's name", c.what, err)
		}
		if got := ask(t, s, "SELECT count(*) FROM runs"); !cmp.Equal(got, [][]any{{int64(3)}}) {
			t.Errorf("%s: runs gives %v", c.what, got)
		}
	}
}

// Files of different ages: columns follow their field id, whatever they were called and wherever they stood.
func TestColumnsFollowTheirFieldID(t *testing.T) {
	root := t.TempDir()
	writeTable(t, filepath.Join(root, "samples/a.parquet"), "samples", cells{
		"run_id": {id(1)}, "t_s": {0.0}, "gear": {int32(3)}, "drive_basis": {"outlet"}, "boost_kpa": {float32(math.Pi)},
	})
	writeArrow(t, filepath.Join(root, "samples/b.parquet"), []arrow.Field{
		{Name: "pressure", Type: arrow.PrimitiveTypes.Float32, Nullable: true, Metadata: fieldID(1000)},
		{Name: "boost_kpa", Type: arrow.PrimitiveTypes.Float32, Nullable: true, Metadata: fieldID(9999)},
		{Name: "run", Type: arrow.BinaryTypes.String, Nullable: true, Metadata: fieldID(2000)},
		{Name: "t_s", Type: arrow.PrimitiveTypes.Float64, Nullable: true, Metadata: fieldID(1)},
	}, cells{"pressure": {float32(1.5)}, "boost_kpa": {float32(7)}, "run": {id(2)}, "t_s": {0.25}})
	s := open(t, schema.Snapshot{Root: root, Files: map[string][]string{"samples": {"samples/a.parquet", "samples/b.parquet"}}}, Options{})
	got := ask(t, s, "SELECT run_id, t_s, gear, drive_basis, boost_kpa FROM samples ORDER BY run_id")
	want := [][]any{{id(1), 0.0, int64(3), "outlet", float32(math.Pi)}, {id(2), 0.25, nil, nil, float32(1.5)}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestUnmappedIsUnfolded(t *testing.T) {
	root := t.TempDir()
	writeTable(t, filepath.Join(root, "unmapped/a.parquet"), "unmapped", cells{
		"run_id": {id(1), id(1), id(1)}, "source": {"a.csv", "a.csv", "a.csv"}, "name": {"x", "state", "none"}, "unit": {"bar", nil, nil},
		"t_s": {[]any{0.0, 0.5}, []any{0.0, 1.0}, []any{}}, "value": {[]any{1.5, nil}, []any{nil, nil}, []any{}}, "text": {nil, []any{"on", nil}, nil},
	})
	s := open(t, schema.Snapshot{Root: root, Files: map[string][]string{"unmapped": {"unmapped/a.parquet"}}}, Options{})
	got := ask(t, s, "SELECT name, unit, t_s, value, text FROM unmapped ORDER BY name DESC, t_s")
	want := [][]any{{"x", "bar", 0.0, 1.5, nil}, {"x", "bar", 0.5, nil, nil}, {"state", nil, 0.0, nil, "on"}, {"state", nil, 1.0, nil, nil}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	types := ask(t, s, "SELECT column_name, column_type FROM (DESCRIBE unmapped) WHERE column_name IN ('t_s', 'value', 'text')")
	if d := cmp.Diff([][]any{{"t_s", "DOUBLE"}, {"value", "DOUBLE"}, {"text", "VARCHAR"}}, types); d != "" {
		t.Error(d)
	}
}

func TestAFileWithoutFieldIDsIsRefused(t *testing.T) {
	root := t.TempDir()
	writeArrow(t, filepath.Join(root, "runs/a.parquet"), []arrow.Field{{Name: "run_id", Type: arrow.BinaryTypes.String, Nullable: true}}, cells{"run_id": {id(1)}})
	s := open(t, schema.Snapshot{Root: root, Files: map[string][]string{"runs": {"runs/a.parquet"}}}, Options{})
	_, err := s.Query(t.Context(), "SELECT * FROM runs")
	if err == nil || !strings.Contains(err.Error(), "no field ids") {
		t.Errorf("got %v", err)
	}
}

func TestVehicles(t *testing.T) {
	s := open(t, schema.Snapshot{Root: t.TempDir()}, Options{Vehicles: []schema.Vehicle{
		{ID: "it's", Platform: "p", Duty: "light", DisplacementL: 2.2, Cylinders: 4, GearRatios: []float64{4.2, 2.5}},
		{ID: "b"},
	}})
	got := ask(t, s, "SELECT vehicle, displacement_l, cylinders, gear_ratios[2], mass_kg, len(road_load) FROM vehicles ORDER BY vehicle DESC")
	want := [][]any{{"it's", 2.2, int64(4), 2.5, nil, nil}, {"b", nil, nil, nil, nil, nil}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestLimits(t *testing.T) {
	s := open(t, schema.Snapshot{Root: t.TempDir()}, Options{Limits: []schema.Limit{
		{Column: "lambda_ratio", Max: math.NaN(), Min: 1.2, Vehicle: "it's", Test: "sweep", Note: "guide"},
		{Column: "coolant_c", Max: 105, Min: 60},
	}})
	got := ask(t, s, "SELECT entry, quantity, direction, bound, unit, vehicle, platform, duty, test, note FROM limits ORDER BY entry, direction")
	want := [][]any{
		{int64(1), "lambda_ratio", "min", 1.2, "1", "it's", nil, nil, "sweep", "guide"},
		{int64(2), "coolant_c", "max", 105.0, "°C", nil, nil, nil, nil, nil},
		{int64(2), "coolant_c", "min", 60.0, "°C", nil, nil, nil, nil, nil},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestRunsNarrowSamples(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 5, 4)
	s := open(t, snap, Options{Runs: []string{id(2), id(4)}})
	if got := ask(t, s, "SELECT count(*), min(run_id), max(run_id) FROM samples"); !cmp.Equal(got, [][]any{{int64(8), id(2), id(4)}}) {
		t.Errorf("got %v", got)
	}
}

// A statement on named runs reads their files alone: it runs although every other file is gone.
func TestNamedRunsReadTheirFilesAlone(t *testing.T) {
	snap := writeRuns(t, t.TempDir(), 5, 4)
	for i, f := range snap.Files["samples"] {
		if i != 2 && i != 3 {
			if err := os.Remove(filepath.Join(snap.Root, f)); err != nil {
				t.Fatal(err)
			}
		}
	}
	s := open(t, snap, Options{})
	two, three := text(id(2)), text(id(3))
	for statement, want := range map[string]int64{
		"SELECT count(*) FROM samples WHERE run_id = " + two:                                                                                   4,
		"SELECT count(*) FROM samples s WHERE t_s > 0.05 AND " + two + " = s.run_id":                                                           3,
		"SELECT count(*) FROM SAMPLES WHERE run_id IN (" + two + ", " + three + ")":                                                            8,
		"SELECT count(*) FROM samples WHERE run_id = $run":                                                                                     4,
		"WITH s AS (SELECT * FROM samples WHERE run_id = " + two + ") SELECT count(*) FROM s JOIN runs USING (run_id)":                         4,
		"SELECT count(*) FROM (SELECT * FROM samples WHERE run_id = " + two + " UNION ALL SELECT * FROM samples WHERE run_id = " + three + ")": 8,
		"SELECT count(*) FROM samples WHERE run_id = 'none'":                                                                                   0,
	} {
		var args []sql.NamedArg
		if strings.Contains(statement, "$run") {
			args = append(args, sql.Named("run", id(2)))
		}
		rows, err := s.Query(t.Context(), statement, args...)
		if err != nil {
			t.Errorf("%s: %v", statement, err)
			continue
		}
		if got, err := rows.All(); err != nil || got[0][0] != want {
			t.Errorf("%s: got %v, %v, want %d", statement, got, err, want)
		}
	}
	for _, statement := range []string{
		"SELECT count(*) FROM samples",
		"SELECT count(*) FROM samples WHERE run_id = " + two + " OR t_s > 0",
		"SELECT count(*) FROM samples WHERE NOT run_id = " + two,
		"SELECT count(*) FROM samples WHERE run_id = vehicle_speed_kmh",
		"SELECT count(*) FROM main.samples WHERE run_id = " + two,
		"SELECT count(*), (SELECT count(*) FROM samples) FROM samples WHERE run_id = " + two,
		"SELECT count(*) FROM runs r JOIN samples s USING (run_id) WHERE r.run_id = " + two,
	} {
		rows, err := s.Query(t.Context(), statement)
		if err == nil {
			_, err = rows.All()
		}
		if err == nil {
			t.Errorf("%s: answered from a part of the files", statement)
		}
	}
}
