package packs

import (
	"strings"
	"testing"
)

// A query that promises to be told of each vehicle apart is asked so too, and a broken promise is told: what counts over all
// vehicles, another order, a column that is not there.
func TestApart(t *testing.T) {
	const runs = "run_id,vehicle\na,v2\nb,v1\nc,v1\nd,\n"
	for sql, want := range map[string]string{
		"SELECT vehicle, count(*) AS n FROM runs GROUP BY vehicle ORDER BY vehicle":                                                           "",
		"SELECT r.vehicle, count(*) AS n, max(s.gear) AS gear FROM runs r JOIN segments s USING (run_id) GROUP BY r.vehicle ORDER BY vehicle": "",
		"SELECT vehicle, count(*) OVER () AS n FROM runs ORDER BY vehicle, run_id":                                                            "as `-- apart:` promises, row 1 is",
		"SELECT vehicle, run_id FROM runs ORDER BY run_id":                                                                                    "as `-- apart:` promises, row 1 is",
		"SELECT vehicle FROM runs UNION ALL SELECT NULL ORDER BY vehicle":                                                                     "there are 7 rows, and of all together 5",
		"SELECT count(*) AS n FROM runs":                                                                                                      "no column \"vehicle\", which the line `-- apart:` names",
	} {
		dir := write(t, map[string]string{
			"mine/runs.sql":                   "-- title: Runs\n-- apart: vehicle\n" + sql,
			"mine/runs.test/all/runs.csv":     runs,
			"mine/runs.test/all/segments.csv": "run_id,segment_id,gear\na,0,3\nb,0,4\nc,1,5\nd,0,6\n",
			"mine/runs.test/all/expect.csv":   "\n",
		})
		set, err := Load(dir)
		if err != nil || len(set.Problems) > 0 {
			t.Fatal(err, set.Problems)
		}
		outcomes, err := Test(t.Context(), set, "mine/runs")
		if err != nil || len(outcomes) != 1 {
			t.Fatal(outcomes, err)
		}
		told := strings.Join(outcomes[0].Fails, "\n")
		if strings.Contains(told, "apart:") != (want != "") || !strings.Contains(told, want) {
			t.Errorf("%s\ntold: %s\nwant: %q", sql, told, want)
		}
	}
}

// The line names columns up to vehicle.
func TestApartLine(t *testing.T) {
	dir := write(t, map[string]string{"mine/runs.sql": "-- title: Runs\n-- apart: vehicle, platform\nSELECT vehicle, platform FROM runs ORDER BY ALL"})
	set, err := Load(dir)
	if err != nil || len(set.Problems) != 1 || !strings.Contains(set.Problems[0].Error(), "runs.sql:2:11: found \"vehicle, platform\", want the columns that the answer is ordered by up to vehicle") {
		t.Error(err, set.Problems)
	}
}
