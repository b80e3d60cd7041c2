package engine

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"dynolake/schema"
)

// A formula is worked out by hand: 3 L at 3000 rpm turns 50 times a second.
func TestUserColumns(t *testing.T) {
	given := map[string]Rows{
		"samples": {Columns: []string{"run_id", "t_s", "engine_speed_rpm", "boost_kpa"}, Values: [][]any{{"a", 0, 3000, 150}, {"a", 0.1, nil, 20}}},
		"curves":  {Columns: []string{"run_id", "bin", "engine_speed_rpm", "boost_kpa"}, Values: [][]any{{"a", 3025, 3025, 100}}},
	}
	o := Options{Columns: []UserColumn{
		{Name: "rev_s", Unit: "1/s", Formula: "engine_speed_rpm / 60.0", Meaning: "turns a second"},
		{Name: "boost_bar", Formula: "CASE WHEN boost_kpa >= 35 THEN boost_kpa / 100 END -- not at idle"},
		{Name: "product", Formula: "rev_s * boost_bar"},
		{Name: "boost_psi", Formula: "kpa_to_psi(boost_kpa)"},
	}}
	s, err := OpenTables(t.Context(), given, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	if len(s.Faults()) > 0 {
		t.Fatalf("faults: %v", s.Faults())
	}
	got := ask(t, s, "SELECT rev_s, boost_bar, product, round(boost_psi, 3) FROM samples ORDER BY t_s")
	if asFloat(got[0][0]) != 50 || asFloat(got[0][1]) != 1.5 || asFloat(got[0][2]) != 75 || asFloat(got[0][3]) != 21.756 || got[1][0] != nil || got[1][1] != nil {
		t.Errorf("samples: %v", got)
	}
	if got := ask(t, s, "SELECT product, boost_kpa FROM curves"); len(got) != 1 || asFloat(got[0][0]) != 50.417 {
		t.Errorf("curves: %v", got)
	}
	if got := ask(t, s, "SELECT count(*) FROM (DESCRIBE runs) WHERE column_name IN ('rev_s', 'boost_bar')"); got[0][0] != int64(0) {
		t.Errorf("runs has the column: %v", got)
	}
}

func asFloat(v any) float64 {
	switch v := v.(type) {
	case float32:
		return math.Round(float64(v)*1e3) / 1e3
	case float64:
		return math.Round(v*1e3) / 1e3
	}
	return -1e9
}

// Each mistake is named; the columns beside it go on.
func TestUserColumnFaults(t *testing.T) {
	for formula, want := range map[string]string{
		"bost_kpa * 2":    `1:1 there is no column "bost_kpa": did you mean "boost_kpa"?`,
		"1 +\n  bost_kpa": `2:3 there is no column "bost_kpa"`,
		"boost_kpa *":     "the formula is no SQL expression",
		"":                "the formula is no SQL expression",
		"42":              "names no column",
		"boost_kpa, 2":    "more than one expression",
		"boost_kpa FROM read_text('/etc/hostname')":             "more than one expression",
		"boost_kpa WHERE true":                                  "more than one expression",
		"DISTINCT boost_kpa":                                    "more than one expression",
		"boost_kpa ORDER BY 1":                                  "more than one expression",
		"boost_kpa GROUP BY ALL":                                "more than one expression",
		"boost_kpa; SELECT 1":                                   "several statements",
		"boost_kpa) FROM (SELECT 1":                             "the formula is no SQL expression",
		"(SELECT boost_kpa)":                                    "a formula may hold no subquery",
		"EXISTS (SELECT content FROM read_text('/etc/passwd'))": "a formula may hold no subquery",
		"sum(boost_kpa)":                                        "GROUP BY",
		"sum(boost_kpa) OVER ()":                                "a formula may hold no window",
		"*":                                                     "a formula may hold no star",
		"COLUMNS('boost.*')":                                    "a formula may hold no",
		"boost_kpa + $1":                                        "a formula may hold no parameter",
		"getenv('HOME') || boost_kpa":                           "1:1 function getenv is not among those",
		"boost_kpa + random()":                                  "1:13 function random is not among those",
		"unnest([boost_kpa])":                                   "function unnest is not among those",
		"samples.boost_kpa":                                     "named by its own name alone",
		"list_transform([boost_kpa], lambda x: x)":              "a formula may hold no lambda",
		"gear_ratios + boost_kpa":                               "no view has all of the columns",
		"run_id * 2":                                            "1:",
	} {
		s, err := Open(t.Context(), schema.Snapshot{Root: t.TempDir()}, Options{Columns: []UserColumn{{Name: "x", Formula: formula}, {Name: "sound", Formula: "boost_kpa + 1"}}})
		if err != nil {
			t.Fatalf("%q: %v", formula, err)
		}
		f := s.Faults()
		got := ""
		if len(f) == 1 {
			got = f[0].Text
			if f[0].Line > 0 {
				got = fmt.Sprintf("%d:%d %s", f[0].Line, f[0].Column, got)
			}
		}
		if formula == "run_id * 2" { // A text times a number: the database's own words.
			want = "no"
			got = strings.ToLower(got)
		}
		if len(f) != 1 || !strings.Contains(got, want) {
			t.Errorf("%q: got %d faults, %q, want %q", formula, len(f), got, want)
		}
		if ask(t, s, "SELECT sound FROM samples"); len(s.UserColumns("samples")) != 1 {
			t.Errorf("%q: its neighbour is gone", formula)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestUserColumnNames(t *testing.T) {
	s, err := Open(t.Context(), schema.Snapshot{Root: t.TempDir()}, Options{Columns: []UserColumn{
		{Name: "boost_kpa", Formula: "map_kpa"}, {Name: "vehicle", Formula: "boost_kpa"}, {Name: "select", Formula: "boost_kpa"}, {Name: "Boost", Formula: "boost_kpa"},
		{Name: `a" FROM x --`, Formula: "boost_kpa"}, {Name: "twice", Formula: "boost_kpa"}, {Name: "twice", Formula: "map_kpa"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	var got []string
	for _, f := range s.Faults() {
		got = append(got, f.Name)
	}
	if want := `boost_kpa vehicle select Boost a" FROM x -- twice`; strings.Join(got, " ") != want {
		t.Errorf("faults of %q, want %q", strings.Join(got, " "), want)
	}
}

// A user's column stands in the views of what is stated as well.
func TestUserColumnsOfVehiclesAndLimits(t *testing.T) {
	s, err := OpenTables(t.Context(), nil, Options{
		Vehicles: []schema.Vehicle{{ID: "van-1", MassKg: 2100}},
		Columns:  []UserColumn{{Name: "mass_t", Unit: "t", Formula: "mass_kg / 1000"}, {Name: "bound_twice", Formula: "2 * bound"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	if got := ask(t, s, "SELECT mass_t FROM vehicles"); len(got) != 1 || asFloat(got[0][0]) != 2.1 {
		t.Errorf("vehicles: %v", got)
	}
	if got := ask(t, s, "SELECT bound_twice FROM limits"); len(got) != 0 {
		t.Errorf("limits: %v", got)
	}
}
