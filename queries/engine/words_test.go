package engine

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dynolake/schema"

	"github.com/google/go-cmp/cmp"
)

// A view has the columns that a statement names, and all of them where it may mean one without naming it.
func TestNaming(t *testing.T) {
	s := openGiven(t, nil)
	conn, err := s.db.connect()
	if err != nil {
		t.Fatal(err)
	}
	defer conn.close()
	all := func(view string) string { return fmt.Sprint(len(Views()[view])) }
	for _, c := range []struct{ statement, view, columns string }{
		{"SELECT count(*) FROM samples", "samples", "run_id"},
		{"SELECT floor(Engine_Speed_rpm / 250) AS bin, count(*) FROM samples GROUP BY 1 ORDER BY 1", "samples", "run_id engine_speed_rpm"},
		{`SELECT "T_S" FROM samples AS s WHERE s.map_kpa > $gear`, "samples", "run_id t_s map_kpa gear"}, // On the safe side.
		{"WITH c AS (SELECT t_s FROM samples) SELECT * FROM c", "samples", "run_id t_s"},
		{"SELECT * FROM (SELECT t_s, gear FROM samples) JOIN runs USING (run_id)", "samples", "run_id t_s gear"},
		{"SELECT * FROM (SELECT t_s, gear FROM samples) JOIN runs USING (run_id)", "runs", all("runs")},
		{"SELECT t_s FROM samples JOIN (VALUES (1)) v(gear) USING (gear)", "samples", "run_id t_s gear"},
		{"SELECT platform FROM runs WHERE EXISTS (SELECT 1 FROM samples s WHERE s.run_id = runs.run_id AND boost_kpa > 1)", "samples", "run_id boost_kpa"},
		{"SELECT platform FROM runs WHERE EXISTS (SELECT 1 FROM samples s WHERE s.run_id = runs.run_id AND boost_kpa > 1)", "runs", "run_id vehicle platform"},
		{"SELECT list_transform([1], lambda gear: gear + 1) FROM samples", "samples", "run_id gear"},
		{"SELECT t_s FROM samples UNION BY NAME SELECT gear FROM samples", "samples", "run_id t_s gear"},
		{"SELECT * FROM samples", "samples", all("samples")},
		{"FROM samples", "samples", all("samples")},
		{"FROM samples SELECT t_s", "samples", "run_id t_s"},
		{"SELECT s.* FROM samples s", "samples", all("samples")},
		{"SELECT COLUMNS('_kpa$') FROM samples", "samples", all("samples")},
		{"SELECT s FROM samples s", "samples", all("samples")},
		{"SELECT samples FROM samples", "samples", all("samples")},
		{"SELECT (s).t_s FROM samples AS s", "samples", all("samples")},
		{"SELECT #2 FROM samples", "samples", all("samples")},
		{"SELECT a FROM samples AS s(a, b)", "samples", all("samples")},
		{"SELECT t_s FROM samples NATURAL JOIN runs", "samples", all("samples")},
		{"SELECT t_s FROM samples NATURAL JOIN runs", "runs", all("runs")},
		{"SELECT t_s FROM samples GROUP BY ALL ORDER BY ALL", "samples", all("samples")},
		{"PIVOT samples ON gear IN (1, 2) USING sum(t_s)", "samples", all("samples")},
		{"FROM (UNPIVOT samples ON t_s, map_kpa)", "samples", all("samples")},
		{"DESCRIBE samples", "samples", all("samples")},
		{"SUMMARIZE samples", "samples", all("samples")},
		{"SHOW TABLES", "samples", all("samples")},
		{"SELECT channel FROM unmapped", "unmapped", all("unmapped")}, // Its lists are unfolded together.
	} {
		use, err := conn.admit(t.Context(), c.statement, s.macros, []argument{{"gear", 1}})
		if err != nil {
			t.Errorf("%s: %v", c.statement, err)
			continue
		}
		def, _ := schema.LookupTable(c.view)
		some, _ := use.columns.of(def, nil)
		var names []string
		for _, column := range some.Columns {
			names = append(names, column.Name)
		}
		if got := strings.Join(names, " "); got != c.columns && fmt.Sprint(len(names)) != c.columns {
			t.Errorf("%s: %s has %q, want %s", c.statement, c.view, got, c.columns)
		}
	}
}

// The user's columns come with those that they stand on.
func TestNamingOfUserColumns(t *testing.T) {
	own := []UserColumn{{Name: "a", Formula: "map_kpa * 2"}, {Name: "b", Formula: `A + "T_S"`}, {Name: "c", Formula: "b + gear"}, {Name: "d", Formula: "nox_ppm"}}
	def, _ := schema.LookupTable("samples")
	for word, want := range map[string]string{"b": "run_id t_s map_kpa; a b", "c": "run_id t_s map_kpa gear; a b c", "gear": "run_id gear; "} {
		n := naming{words: map[string]bool{word: true}}
		some, kept := n.of(def, own)
		var names, users []string
		for _, c := range some.Columns {
			names = append(names, c.Name)
		}
		for _, u := range kept {
			users = append(users, u.Name)
		}
		if got := strings.Join(names, " ") + "; " + strings.Join(users, " "); got != want {
			t.Errorf("%s: got %q, want %q", word, got, want)
		}
	}
}

// A statement answers, and fails, over views of some columns as over views of all.
func TestSomeColumnsAreAsAll(t *testing.T) {
	snap := writeRuns(t, filepath.Join(t.TempDir(), "lake"), 3, 40)
	o := Options{Columns: []UserColumn{{Name: "boost_bar", Formula: "boost_kpa / 100"}, {Name: "twice", Formula: "boost_bar * 2"}}, Vehicles: []schema.Vehicle{{ID: "v0", Platform: "p"}, {ID: "v1"}}}
	for _, statement := range []string{
		"SELECT count(*) FROM samples",
		"SELECT run_id, max(boost_kpa), sum(twice) FROM samples GROUP BY 1 ORDER BY 1",
		"SELECT s.t_s FROM samples s JOIN runs r USING (run_id) WHERE r.vehicle = 'v1' ORDER BY 1 LIMIT 3",
		"SELECT vehicle, v.platform, count(*) FROM vehicles v JOIN runs USING (vehicle) JOIN samples USING (run_id) GROUP BY ALL ORDER BY 1, 2",
		"SELECT max(map_kpa), bin_mid(max(engine_speed_rpm), 250) FROM samples WHERE run_id = '" + id(1) + "'",
		"SELECT boost_kpa AS gear FROM samples ORDER BY gear LIMIT 2",
		"SELECT s FROM samples s ORDER BY t_s, run_id LIMIT 1",
		"SELECT run_id, welch_half(1, 3, 2, 4) FROM runs ORDER BY 1",
		"SELECT kind FROM segments",
		"SELECT bosst_kpa FROM samples",
		"SELECT boost_kpa, run_idd FROM samples JOIN runs USING (run_id)",
		"SELECT platform FROM samples",
		"SELECT t_s FROM samples GROUP BY run_id",
		"SELECT boost_kpa.x FROM samples",
		"SELECT bin_mid(t_s) FROM samples",
	} {
		s := open(t, snap, o)
		wide := open(t, snap, o)
		for _, view := range viewNames() {
			ask(t, wide, "SELECT * FROM "+view+" LIMIT 0") // Now it has all columns there.
		}
		got, err := answer(t, s, statement)
		want, wanted := answer(t, wide, statement)
		if d := cmp.Diff(want, got); d != "" || fmt.Sprint(err) != fmt.Sprint(wanted) {
			t.Errorf("%s: %s, error %v, want %v", statement, d, err, wanted)
		}
		if made := slices.Contains([]string{"SELECT s FROM samples s ORDER BY t_s, run_id LIMIT 1"}, statement); err == nil && s.made[samples] != made {
			t.Errorf("%s: the view of all columns is there: %v, want %v", statement, !made, made)
		}
	}
}

func answer(t *testing.T, s *Session, statement string) ([][]any, error) {
	rows, err := s.Query(t.Context(), statement)
	if err != nil {
		if !errors.As(err, new(*Fault)) {
			t.Errorf("%s: %v, want a fault", statement, err)
		}
		return nil, err
	}
	return rows.All()
}

func TestReadsOnce(t *testing.T) {
	for statement, want := range map[string]bool{
		"select count(*) from samples":                                           true,
		"select t_s, t_s from Samples join runs using (run_id)":                  true,
		"with c as (select * from samples) select * from c join c as d on true":  true,
		"select * from samples union all select * from SAMPLES":                  false,
		`select samples.t_s from "samples"`:                                      false, // On the safe side.
		"select (select count(*) from curves), (select count(*) from\ncurves\n)": false,
	} {
		if got := ReadsOnce(statement); got != want {
			t.Errorf("%s: got %v, want %v", statement, got, want)
		}
	}
}
