package engine

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The list names functions that the database has, and none that reads further than its arguments: the built-in macros among
// them are made of listed functions alone.
func TestListedFunctions(t *testing.T) {
	s := openGiven(t, nil)
	conn, err := s.db.connect()
	if err != nil {
		t.Fatal(err)
	}
	defer conn.close()
	rows, err := conn.collect(t.Context(), "SELECT lower(function_name), any_value(function_type), any_value(macro_definition) FROM duckdb_functions() WHERE function_type IN ('scalar', 'aggregate', 'macro') GROUP BY 1, function_type")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{"unnest": true, "grouping": true} // Read by the parser itself.
	for _, r := range rows {
		name := r[0].(string)
		there[name] = true
		if body, ok := r[2].(string); ok && functions()[name] {
			if err := s.Admit(t.Context(), "SELECT "+body); err != nil {
				t.Errorf("macro %s is listed, and its body %s is refused: %v", name, body, err)
			}
		}
	}
	for name := range functions() {
		if !there[name] {
			t.Errorf("function %s is listed, and the database has none of that name", name)
		}
	}
	if len(functions()) < 400 {
		t.Errorf("only %d functions are listed", len(functions()))
	}
}

func TestMacros(t *testing.T) {
	s := openGiven(t, nil)
	for statement, want := range map[string]float64{
		"SELECT bin_mid(1999.9, 50)": 1975, "SELECT bin_mid(2000, 50)": 2025, "SELECT bin_mid(-0.1, 5)": -2.5, "SELECT bin_mid(12, 10)": 15,
		"SELECT quantile_of(x, 0.5) FROM (VALUES (1), (2), (10), (NULL)) v(x)": 2, "SELECT quantile_of(x, 0.25) FROM range(5) v(x)": 1,
		"SELECT numbers('1.0, 1.2,,2')[2]": 1.2, "SELECT len(numbers(''))": 0, "SELECT len(words(' a ,b,, '))": 2,
		"SELECT kpa_to_psi(172.369)": 25, "SELECT c_to_f(25)": 77, "SELECT nm_to_lb_ft(406.7454)": 300, "SELECT kw_to_hp(186.4250)": 250,
		"SELECT kmh_to_mph(96.56064)": 60, "SELECT g_s_to_lb_min(340.194)": 45, "SELECT kg_h_to_lb_h(0.45359237)": 1,
		"SELECT psi_to_kpa(25)": 172.369, "SELECT f_to_c(77)": 25, "SELECT c_to_k(25)": 298.15, "SELECT lb_ft_to_nm(300)": 406.7454, "SELECT hp_to_kw(250)": 186.4250, "SELECT mph_to_kmh(60)": 96.56064,
		"SELECT kpa_to_bar(250)": 2.5, "SELECT kpa_to_inhg(101.325)": 29.9213, "SELECT kw_to_ps(73.549875)": 100, "SELECT g_s_to_kg_h(100)": 360,
		"SELECT bin_of(0, 0, 10, 4)": 1.25, "SELECT bin_of(10, 0, 10, 4)": 8.75, "SELECT bin_of(2.5, 0, 10, 4)": 3.75, "SELECT coalesce(bin_of(10.1, 0, 10, 4), -1)": -1,
		"SELECT median_of(x) FROM (VALUES (1), (2), (10), (NULL)) v(x)": 2, "SELECT iqr_of(x) FROM range(5) v(x)": 2,
	} {
		var got float64
		switch x := ask(t, s, "SELECT CAST(("+statement+") AS DOUBLE)")[0][0].(type) {
		case float64:
			got = x
		default:
			t.Errorf("%s: got %v", statement, x)
		}
		if math.Abs(got-want) > 1e-5*math.Max(1, math.Abs(want)) {
			t.Errorf("%s: got %v, want %v", statement, got, want)
		}
	}
}

// Every macro is told with what it means.
func TestMacrosAreTold(t *testing.T) {
	s := openGiven(t, nil)
	list := Macros()
	if n := strings.Count(MacrosSQL(), "CREATE MACRO "); len(list) != n || len(s.macros) != n {
		t.Errorf("%d macros are told and %d known, and there are %d", len(list), len(s.macros), n)
	}
	for _, m := range list {
		if len(m.Meaning) < 8 || m.SQL == "" || strings.Contains(m.SQL, "--") {
			t.Errorf("%s is told as %q, standing for %q", m.Call, m.Meaning, m.SQL)
		}
	}
}

// Made one by one, when a statement names them, the macros are those of the text.
func TestMacrosAreThoseOfTheText(t *testing.T) {
	const told = "SELECT function_name, CAST(parameters AS VARCHAR), macro_definition FROM duckdb_functions() WHERE function_type = 'macro' AND NOT internal ORDER BY 1"
	db, err := openDatabase(nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.close()
	conn, err := db.connect()
	if err != nil {
		t.Fatal(err)
	}
	defer conn.close()
	if err := conn.run(t.Context(), MacrosSQL()); err != nil {
		t.Fatal(err)
	}
	want, err := conn.collect(t.Context(), told)
	if err != nil {
		t.Fatal(err)
	}
	s := openGiven(t, nil)
	for _, m := range slices.Backward(Macros()) { // Those that stand on others first.
		name, _, _ := strings.Cut(m.Call, "(")
		if _, err := s.Query(t.Context(), "SELECT "+strings.ToUpper(name)+"()"); !errors.As(err, new(*Fault)) {
			t.Errorf("%s without arguments: got %v, want a fault", name, err)
		}
	}
	own, err := s.db.connect()
	if err != nil {
		t.Fatal(err)
	}
	defer own.close()
	got, err := own.collect(t.Context(), told)
	if err != nil || len(got) == 0 {
		t.Fatal(got, err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}
