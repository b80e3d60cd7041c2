package dialect

import (
	"strings"
	"testing"
)

// TestWords: how each difference of the engines is written; engine_test.go shows that it answers the same.
func TestWords(t *testing.T) {
	tr := translator(t)
	for expression, want := range map[string]string{
		"duration_s / baro_kpa":                    "_t1.`duration_s` / nullIf(_t1.`baro_kpa`, 0)",
		"rows / 2":                                 "toFloat64(_t1.`rows`) / 2.",
		"rows // 2":                                "intDiv(_t1.`rows`, toInt64(2))",
		"duration_s * 0.5":                         "_t1.`duration_s` * 0.5",
		"1.5 * 2.25":                               "toDecimal128('1.5', 1) * toDecimal128('2.25', 2)",
		"round(duration_s)":                        "arrayMap(x -> if(isFinite(x), if(abs(x - trunc(x)) >= 0.5, trunc(x) + sign(x), trunc(x)), x), [_t1.`duration_s`])[1]",
		"concat(vehicle, 'x')":                     "concat(ifNull(_t1.`vehicle`, ''), 'x')",
		"vehicle || 'x'":                           "concat(_t1.`vehicle`, 'x')",
		"greatest(rows, 2.5e0)":                    "greatest(toFloat64(_t1.`rows`), 2.5e0)",
		"vehicle IS NOT DISTINCT FROM NULL":        "_t1.`vehicle` IS NOT DISTINCT FROM CAST(NULL AS Nullable(String))",
		"vehicle LIKE 'a\\%'":                      "_t1.`vehicle` LIKE 'a\\\\\\\\%'",
		"CASE WHEN rows > 1 THEN 1 ELSE 2.5e0 END": "CASE WHEN _t1.`rows` > toInt64(1) THEN 1. ELSE 2.5e0 END",
		"count(DISTINCT vehicle)":                  "toInt64(count(DISTINCT _t1.`vehicle`))",
		"sum(rows)":                                "sum(toNullable(toInt128(_t1.`rows`)))",
		"stddev_samp(baro_kpa)":                    "arrayMap(v -> if(isFinite(v), v, NULL), [stddevSampStable(_t1.`baro_kpa`)])[1]",
		"first_value(rows) OVER (ORDER BY run_id)": "first_value(_t1.`rows`) RESPECT NULLS OVER (ORDER BY _t1.`run_id` ASC NULLS LAST)",
		"lag(rows) OVER (PARTITION BY vehicle ORDER BY run_id DESC)": "lag(_t1.`rows`) OVER (PARTITION BY _t1.`vehicle` ORDER BY _t1.`run_id` DESC NULLS LAST)",
		"joined(vehicle)":                        "arrayMap(v -> if(length(v) = 0, NULL, arrayStringConcat(v, ', ')), [arraySort(groupArray(_t1.`vehicle`))])[1]",
		"day_of(started_at) - DATE '2026-01-01'": "toInt64(dateDiff('day', CAST('2026-01-01' AS Nullable(Date32)), toDate32(_t1.`started_at`, 'UTC')))",
		"kw_to_hp(duration_s)":                   "_t1.`duration_s` / 0.7456998715822702e0",
	} {
		script, err := tr.Translate("SELECT "+expression+" AS x FROM runs", nil)
		if err != nil {
			t.Errorf("%s: %v", expression, err)
			continue
		}
		got, ok := strings.CutPrefix(script.Answer, "SELECT CAST(")
		got, _, _ = strings.Cut(got, " AS Nullable("+kindOf(t, script).click()+")) AS `x`")
		if !ok || got != want && "toBool("+want+")" != got {
			t.Errorf("%s\ngot  %s\nwant %s", expression, got, want)
		}
	}
}

// kindOf is the type of a script's one column.
func kindOf(t *testing.T, s Script) Type {
	kind, err := ParseType(s.Columns[0].Type)
	if err != nil {
		t.Fatal(err)
	}
	return kind
}
