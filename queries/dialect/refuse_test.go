package dialect

import (
	"database/sql"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"
)

// TestRefused: what is not known to mean the same is refused by name, with its place.
func TestRefused(t *testing.T) {
	tr := translator(t)
	for statement, want := range map[string]string{
		"SELECT histogram(t_s) AS h FROM samples":                                                                     "1:8: translate the statement for ClickHouse: function histogram is not translated",
		"SELECT run_id,\n  mode(gear) AS m FROM samples":                                                              "2:3: translate the statement for ClickHouse: function mode is not translated",
		"SELECT list(t_s) AS l FROM samples":                                                                          "function list is not translated",
		"describe runs":                                                                                               "1:1: translate the statement for ClickHouse: DESCRIBE is not translated: one SELECT is",
		"SELECT median(boost_kpa) AS m FROM samples":                                                                  "median of FLOAT is not translated: cast it to DOUBLE",
		"SELECT string_agg(vehicle, ', ') AS s FROM runs":                                                             "texts in their own order alone",
		"SELECT t_s % 0.7 AS x FROM samples":                                                                          "% of DOUBLE and DECIMAL(38,1) is not translated",
		"SELECT CAST(t_s AS VARCHAR) AS x FROM samples":                                                               "DOUBLE as a text is not translated",
		"SELECT vehicle || t_s AS x FROM runs, samples":                                                               "DOUBLE as a text is not translated",
		"SELECT started_at - ingested_at AS d FROM runs":                                                              "- of TIMESTAMP WITH TIME ZONE and TIMESTAMP WITH TIME ZONE is not translated",
		"SELECT * FROM range(10)":                                                                                     "table function range is not translated",
		"SELECT a.run_id FROM runs a NATURAL JOIN runs b":                                                             "NATURAL joins are not translated",
		"SELECT a.run_id FROM runs a ASOF JOIN runs b ON a.rows >= b.rows":                                            "ASOF joins are not translated",
		"WITH RECURSIVE t AS (SELECT 1 AS a) SELECT a FROM t":                                                         "WITH RECURSIVE is not translated",
		"SELECT run_id FROM runs EXCEPT SELECT run_id FROM segments":                                                  "EXCEPT is not translated",
		"SELECT run_id FROM runs r WHERE EXISTS (SELECT 1 FROM segments s WHERE s.run_id = r.run_id)":                 "column run_id is of the statement around this one",
		"SELECT run_id, unnest([1, 2]) AS x FROM runs":                                                                "unnest is translated as the one",
		"SELECT DISTINCT ON (run_id) run_id, t_s FROM samples":                                                        "DISTINCT ON without ORDER BY keeps any row",
		"SELECT sum(t_s) OVER (ORDER BY t_s RANGE BETWEEN 1 PRECEDING AND CURRENT ROW) AS s FROM samples":             `found "1", want UNBOUNDED`,
		"SELECT sum(t_s) OVER (ORDER BY t_s ROWS BETWEEN 1 PRECEDING AND CURRENT ROW EXCLUDE TIES) AS s FROM samples": "EXCLUDE in a window is not translated",
		"SELECT TRY_CAST(vehicle AS INTEGER) AS x FROM runs":                                                          "TRY_CAST of a text to INTEGER is not translated",
		"SELECT E'a\\nb' AS x":                                                                                        "texts with escapes",
		"SELECT $$a$$ AS x":                                                                                           "texts between dollar signs",
		"SELECT rows[1:2] AS x FROM runs":                                                                             "slices [from:to] are not translated",
		"SELECT {'a': 1} AS x":                                                                                        `found "{"`,
		"SELECT nosuch FROM runs":                                                                                     "1:8: translate the statement for ClickHouse: there is no column nosuch",
		"SELECT r.nosuch FROM runs r":                                                                                 "there is no column r.nosuch",
		"SELECT 1 AS x FROM nosuch":                                                                                   "there is no table or view nosuch",
		"SELECT run_id FROM runs a JOIN runs b ON a.run_id = b.run_id":                                                "column run_id is ambiguous",
		"SELECT vehicle = 5 AS x FROM runs":                                                                           "VARCHAR and INTEGER do not go together",
		"SELECT abs(vehicle) AS x FROM runs":                                                                          "abs of VARCHAR, want a number",
		"SELECT round(t_s, 1, 2) AS x FROM samples":                                                                   "round takes 2 arguments, found 3",
		"SELECT bin_mid(t_s) AS x FROM samples":                                                                       "bin_mid takes 2 arguments, found 1",
		"SELECT $missing AS x":                                                                                        "parameter $missing is not given",
		"SELECT 1 AS x; SELECT 2":                                                                                     `found "SELECT"`,
		"SELECT":                                                                                                      `found "the end", want a value`,
		"SELECT 'open":                                                                                                "the quote ' is not closed",
		"SELECT sum(t_s) OVER (PARTITION BY":                                                                          `found "the end"`,
		"SELECT sum(t_s) OVER (ORDER BY t_s ROWS":                                                                     `found "the end"`,
		"SELECT t975(t975(t975(t975(t975(t975(t975(t_s))))))) AS x FROM samples":                                      "grows beyond 4 MiB",
		"SELECT " + strings.Repeat("(", 2000) + "1" + strings.Repeat(")", 2000):                                       "nests too deep",
		"SELECT " + strings.Repeat("1 + ", 20000) + "1 AS x":                                                          "nests too deep",
		"SELECT len(list_filter(gear_ratios, lambda x: x > 1)) AS n FROM vehicles":                                    "list_filter of a list that can be NULL is not translated",
	} {
		_, err := tr.Translate(statement, nil)
		refused := new(Refused)
		if !errors.As(err, &refused) || !strings.Contains(err.Error(), want) {
			t.Errorf("%.100s\ngot %v, want %q", statement, err, want)
		}
	}
}

// TestArguments: the value of a parameter stands in the script as a literal that nothing breaks out of.
func TestArguments(t *testing.T) {
	tr := translator(t)
	for want, v := range map[string]any{
		`'it\'s \\ "so" \\\' -- $a'`:    `it's \ "so" \' -- $a`,
		"toInt64(-5)":                   -5,
		"toInt64(7)":                    int64(7),
		"toInt64(8)":                    int32(8),
		"1.5e+00":                       1.5,
		"-2.5e-01":                      float32(-0.25),
		"true":                          true,
		"CAST(NULL AS Nullable(Int32))": nil,
		"parseDateTime64BestEffort('2026-03-04T08:15:30.5Z', 6, 'UTC')": time.Date(2026, 3, 4, 10, 15, 30, 5e8, time.FixedZone("", 7200)),
	} {
		script, err := tr.Translate("SELECT $a AS x", []sql.NamedArg{sql.Named("a", v)})
		if err != nil || !strings.Contains(script.Answer, want) {
			t.Errorf("%v: %v %v, want %s", v, script.Answer, err, want)
		}
	}
	if script, err := tr.Translate("SELECT $a AS x", []sql.NamedArg{sql.Named("a", math.NaN())}); err != nil || !strings.Contains(script.Answer, "NULL") {
		t.Errorf("NaN: %v %v", script.Answer, err)
	}
	for _, v := range []any{math.Inf(1), []int{1}, struct{}{}} {
		if _, err := tr.Translate("SELECT $a AS x", []sql.NamedArg{sql.Named("a", v)}); err == nil {
			t.Errorf("%v is taken", v)
		}
	}
}

// TestSteps: a part of a WITH that is read once stands where it is read, one that is read more often is a step, one that is not read is left out.
func TestSteps(t *testing.T) {
	script, err := translator(t).Translate("WITH once AS (SELECT run_id FROM runs), twice AS (SELECT run_id FROM once), never AS (SELECT vehicle FROM runs) SELECT a.run_id FROM twice a JOIN twice b ON b.run_id = a.run_id", nil)
	if err != nil {
		t.Fatal(err)
	}
	want := Step{"step_1_twice", "CREATE TEMPORARY TABLE `step_1_twice` (`run_id` Nullable(String)) ENGINE = Memory AS SELECT _t2.`run_id` AS `run_id` FROM (SELECT _t1.`run_id` AS `run_id` FROM `runs` AS _t1) AS _t2"}
	if len(script.Steps) != 1 || script.Steps[0] != want || len(script.Drop) != 1 || script.Drop[0] != "DROP TEMPORARY TABLE IF EXISTS `step_1_twice`" {
		t.Errorf("got %q, dropped by %q", script.Steps, script.Drop)
	}
	const answer = "SELECT CAST(_t3.`run_id` AS Nullable(String)) AS `run_id` FROM `step_1_twice` AS _t3 INNER JOIN `step_1_twice` AS _t4 ON _t4.`run_id` = _t3.`run_id`"
	if script.Answer != answer {
		t.Errorf("got  %s\nwant %s", script.Answer, answer)
	}
}

// FuzzTranslate: whatever the statement, it is translated or refused.
func FuzzTranslate(f *testing.F) {
	tr := translator(f)
	for _, s := range []string{"SELECT 1", "WITH a AS (SELECT * FROM runs) SELECT count(*) FROM a GROUP BY ALL", "SELECT round(t_s, 1) OVER (", "SELECT CASE", "SELECT x::DECIMAL(", "SELECT INTERVAL", "SELECT $a[1]", "((", "SELECT 1 ORDER BY", "FROM"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, statement string) {
		_, err := tr.Translate(statement, []sql.NamedArg{sql.Named("a", 1)})
		refused := new(Refused)
		if err != nil && !errors.As(err, &refused) {
			t.Errorf("%v", err)
		}
	})
}

// TestCutStatements: a statement that ends anywhere is translated or refused.
func TestCutStatements(t *testing.T) {
	tr := translator(t)
	text, err := os.ReadFile("testdata/alike.sql")
	if err != nil {
		t.Fatal(err)
	}
	for statement := range strings.SplitSeq(string(text), "\n\n") {
		for end := 0; end < len(statement); end += 7 {
			_, err := tr.Translate(statement[:end], nil)
			refused := new(Refused)
			if err != nil && !errors.As(err, &refused) {
				t.Fatalf("%s: %v", statement[:end], err)
			}
		}
	}
}
