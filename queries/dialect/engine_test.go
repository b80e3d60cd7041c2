package dialect_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"dynolake/queries/engine"
	"dynolake/queries/fleet"
	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// library says where ClickHouse's embedded engine is; without it a test is left out, save in CI.
func library(t *testing.T) fleet.Options {
	t.Helper()
	if os.Getenv(fleet.LibraryVariable) == "" {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s names no library", fleet.LibraryVariable)
		}
		t.Skipf("%s names no library", fleet.LibraryVariable)
	}
	return fleet.Options{Engine: fleet.Embedded, Env: os.Getenv}
}

// answer is what an engine gives.
type answer struct {
	columns []result.Column
	rows    [][]any
}

type asker interface {
	Query(context.Context, string, ...sql.NamedArg) (*result.Rows, error)
}

func ask(t *testing.T, s asker, statement string) answer {
	t.Helper()
	rows, err := s.Query(t.Context(), statement)
	if err != nil {
		t.Fatalf("%s\n%v", statement, err)
	}
	columns := rows.Columns()
	all, err := rows.All()
	if err != nil {
		t.Fatalf("%s\n%v", statement, err)
	}
	return answer{columns, all}
}

// both opens a session of each engine over the same rows.
func both(t *testing.T, given map[string]engine.Rows) (duck *engine.Session, click *fleet.Session) {
	t.Helper()
	options := library(t)
	duck, err := engine.OpenTables(t.Context(), given, engine.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = duck.Close() })
	click, err = fleet.OpenTables(t.Context(), given, options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = click.Close() })
	return duck, click
}

// TestSameRows asks each statement of testdata/alike.sql of both engines.
func TestSameRows(t *testing.T) {
	duck, click := both(t, oddRows())
	text, err := os.ReadFile("testdata/alike.sql")
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	for paragraph := range strings.SplitSeq(string(text), "\n\n") {
		var lines []string
		for line := range strings.SplitSeq(paragraph, "\n") {
			if !strings.HasPrefix(line, "--") {
				lines = append(lines, line)
			}
		}
		statement := strings.TrimSpace(strings.Join(lines, "\n"))
		if statement == "" {
			continue
		}
		asked++
		compare(t, statement, ask(t, click, statement), ask(t, duck, statement), 1e-13)
	}
	if asked < 95 {
		t.Errorf("%d statements were asked, want all of the file", asked)
	}
}

// TestSameDigits: what must not differ in the last digit does not, over numbers of which many lie halfway between two roundings.
func TestSameDigits(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	rows := engine.Rows{Columns: []string{"run_id", "t_s", "boost_kpa", "gear"}}
	for i := range 3000 {
		x := [...]float64{float64(random.IntN(100000)) / 8, float64(random.IntN(100000)) / 20, float64(random.IntN(1000000)) / 2000, random.NormFloat64() * 1000, (float64(random.IntN(20000)) + 0.5) / 100}[i%5]
		rows.Values = append(rows.Values, []any{strconv.Itoa(random.IntN(40)), strconv.FormatFloat(x, 'g', -1, 64), strconv.FormatFloat(float64(float32(x)), 'g', -1, 32), strconv.Itoa(random.IntN(5) - 1)})
	}
	duck, click := both(t, map[string]engine.Rows{"samples": rows})
	for _, statement := range []string{
		"SELECT t_s, round(t_s, 1) AS a, round(t_s, 2) AS b, round(t_s, 3) AS c, round(t_s) AS d, round(-t_s, 2) AS e, round(t_s, -1) AS f, round(t_s, gear) AS g, round(boost_kpa, 1) AS h, round(boost_kpa, 2) AS i, round(t_s / 3, 2) AS j FROM samples ORDER BY t_s, boost_kpa, gear",
		"SELECT run_id, quantile_cont(t_s, 0.05) AS a, quantile_cont(t_s, 0.5) AS b, quantile_cont(t_s, 0.95) AS c, quantile_of(boost_kpa, 0.75) AS d, quantile_cont(t_s, 0.333) AS e, quantile_of(boost_kpa, 0.9) AS f, median_of(t_s) AS g, iqr_of(t_s) AS h FROM samples GROUP BY run_id ORDER BY run_id",
		"SELECT t_s, boost_kpa * 0.1 AS a, boost_kpa / 3 AS b, boost_kpa + boost_kpa / 7 AS c, boost_kpa * gear AS d, boost_kpa - 0.1 AS e, t_s / 0.3 AS f, boost_kpa / t_s AS g, bin_mid(boost_kpa, 0.1) AS h, bin_of(t_s, 0, 1000, 7) AS i, floor(boost_kpa / 0.3) AS j, boost_kpa < 12.3 AS k FROM samples ORDER BY t_s, boost_kpa, gear",
	} {
		compare(t, statement, ask(t, click, statement), ask(t, duck, statement), 0)
	}
}

// TestPacksCases: every pack answers its own test cases on ClickHouse as they say.
func TestPacksCases(t *testing.T) {
	options := library(t)
	set, err := packs.Load("")
	if err != nil {
		t.Fatal(err)
	}
	outcomes, err := packs.TestOn(t.Context(), set, "", func(ctx context.Context, given map[string]engine.Rows, sql string) (columns []string, rows [][]any, err error) {
		s, err := fleet.OpenTables(ctx, given, options)
		if err != nil {
			return nil, nil, err
		}
		defer func() { err = errors.Join(err, s.Close()) }()
		answer, err := s.Query(ctx, sql)
		if err != nil {
			return nil, nil, err
		}
		rows, err = answer.All()
		return answer.Names(), rows, err
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(outcomes) < 50 {
		t.Errorf("%d cases were asked, want all", len(outcomes))
	}
	for _, o := range outcomes {
		for _, f := range o.Fails {
			t.Errorf("%s: %s", o.Pack, f)
		}
	}
}

// compare holds that two answers are the same, numbers of double precision within a part of their size.
func compare(t *testing.T, statement string, got, want answer, within float64) {
	t.Helper()
	if len(got.rows) != len(want.rows) || !slices.Equal(got.columns, want.columns) {
		t.Errorf("%s\ngot %d rows of %v, want %d of %v", statement, len(got.rows), got.columns, len(want.rows), want.columns)
		return
	}
	bad := 0
	for i, row := range want.rows {
		for j, w := range row {
			if g := got.rows[i][j]; !same(g, w, within) {
				if bad++; bad <= 3 {
					t.Errorf("%s\nrow %d, %s: got %v (%T), want %v (%T)", statement, i+1, want.columns[j].Name, g, g, w, w)
				}
			}
		}
	}
}

func same(got, want any, within float64) bool {
	x, ok1 := got.(float64)
	y, ok2 := want.(float64)
	if ok1 && ok2 {
		return math.Signbit(x) == math.Signbit(y) && math.Abs(x-y) <= within*math.Abs(y)
	}
	if a, ok := got.(time.Time); ok {
		b, ok := want.(time.Time)
		return ok && a.Equal(b)
	}
	return fmt.Sprintf("%T %v", got, got) == fmt.Sprintf("%T %v", want, want)
}

// oddRows are rows in which much is missing, halfway, or hard to write.
func oddRows() map[string]engine.Rows {
	samples := engine.Rows{Columns: []string{"run_id", "t_s", "engine_speed_rpm", "boost_kpa", "gear"}}
	boost := []any{"0.05", "12.25", "12.35", nil, "50.5", "99.95", "100.05", "150.15", nil, "150.15", "151", "0.1", "0.3", "77.7", "1e-3"}
	gear := []any{"1", "1", "2", "2", nil, "3", "3", "1", "2", "2", "2", nil, "1", "2", "1"}
	for i, t := range []string{"0", "0.05", "0.15", "0.25", "0.35", "0.5", "1.005", "1.115", "1.5", "2.5", "2.675", "3.14159", "4.445", "4.5", "5"} {
		var rpm any = strconv.Itoa(1000 + 137*i)
		if i == 7 {
			rpm = nil
		}
		samples.Values = append(samples.Values, []any{[]string{"01", "02", "03"}[i%3], t, rpm, boost[i], gear[i]})
	}
	return map[string]engine.Rows{
		"samples": samples,
		"runs": {Columns: []string{"run_id", "vehicle", "test", "started_at", "duration_s", "rows", "baro_kpa", "ambient_c", "operator_note"}, Values: [][]any{
			{"01", "car-a", "sweep", "2026-03-04T08:15:30.123456Z", "30.25", "3000", "99.5", "21.5", "a note; "},
			{"02", "car-a", "steps", "2026-03-04T23:59:59Z", "12.5", "12", "101.3", nil, "Größe\t12"},
			{"03", "car-b", "sweep", "2025-12-31T23:00:00Z", "45.125", "4500", nil, "20.5", `ab\`},
			{"04", nil, "sweep", nil, nil, "5", "98", "19", "100% 'of' it"},
			{"05", nil, nil, "2026-03-05T10:00:00Z", "7", nil, "100", "30", nil},
			{"06", "Car-C", "road", "1969-07-20T20:17:40Z", "7", "9", "100", "-5.5", ` " quoted" `},
		}},
		"segments": {Columns: []string{"run_id", "segment_id", "kind", "locked", "gear"}, Values: [][]any{
			{"01", "1", "pull", "true", "3"}, {"01", "2", "pull", nil, "4"}, {"02", "1", "shift", "false", nil}, {"09", "1", "pull", "true", "1"}}},
		"findings": {Columns: []string{"run_id", "code", "value"}, Values: [][]any{{"01", "x", "1"}, {"77", "y", "2"}, {nil, "z", nil}}},
		"vehicles": {Columns: []string{"id", "gear_ratios"}, Values: [][]any{{"a", "[3.5, 2.1, 1]"}, {"b", nil}}},
		"limits": {Columns: []string{"entry", "quantity", "vehicle", "test", "note"}, Values: [][]any{
			{"1", "boost_kpa", "car-a", nil, "of a car"}, {"2", "boost_kpa", nil, "sweep", "of a sweep"}, {"3", "boost_kpa", nil, nil, "of all"}}},
	}
}
