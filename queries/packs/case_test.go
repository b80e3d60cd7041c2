package packs

import (
	"strings"
	"testing"
)

// TestOurs runs the cases beside our own queries; every query has at least one.
func TestOurs(t *testing.T) {
	set, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	outcomes, err := Test(t.Context(), set, "")
	if err != nil {
		t.Fatal(err)
	}
	tested := map[string]bool{}
	for _, o := range outcomes {
		tested[o.Pack] = true
		if len(o.Fails) > 0 {
			t.Errorf("%s:\n%s", o.Case, strings.Join(o.Fails, "\n"))
		}
	}
	for _, p := range set.All() {
		if !tested[p.Name] {
			t.Errorf("%s has no case", p.Name)
		}
	}
}

// TestUserCases holds that cases of the user's own packs run, and that each way of being wrong is told with its place.
func TestUserCases(t *testing.T) {
	const q = "-- title: Runs\n-- param least: number, 0, kPa, lowest pressure\n-- column n: 1, runs\nSELECT vehicle, baro_kpa, started_at, rows FROM runs WHERE baro_kpa >= $least ORDER BY run_id"
	const runs = "run_id,vehicle,baro_kpa,started_at,rows\na,v1,99.5,2026-03-04T10:11:12Z,3\nb,,98,,\n"
	dir := write(t, map[string]string{
		"mine/runs.sql":                        strings.Replace(q, "-- column n: 1, runs\n", "", 1),
		"mine/runs.test/holds/runs.csv":        runs,
		"mine/runs.test/holds/case.yaml":       "tolerance: {baro_kpa: 1%}\n",
		"mine/runs.test/holds/expect.csv":      "vehicle,baro_kpa,started_at,rows\nv1,100,2026-03-04T10:11:12Z,3\n,98,,\n",
		"mine/runs.test/nothing/runs.csv":      runs,
		"mine/runs.test/nothing/case.yaml":     "params: {least: 200}\n",
		"mine/runs.test/off/runs.csv":          runs,
		"mine/runs.test/off/expect.csv":        "vehicle,baro_kpa\nv2,99.4\n,\n",
		"mine/runs.test/some/runs.csv":         runs,
		"mine/runs.test/rows/runs.csv":         runs,
		"mine/runs.test/rows/expect.csv":       "vehicle\nv1\n",
		"mine/runs.test/name/runs.csv":         runs,
		"mine/runs.test/name/expect.csv":       "vehicle,barro_kpa\nv1,99.5\n,98\n",
		"mine/runs.test/view/rnus.csv":         runs,
		"mine/runs.test/column/runs.csv":       "run_id,  vehicel\na,v1\n",
		"mine/runs.test/ragged/runs.csv":       "run_id,vehicle\na\n",
		"mine/runs.test/value/runs.csv":        "run_id,baro_kpa\na,high\n",
		"mine/runs.test/yaml/case.yaml":        "parms: {least: 1}\n",
		"mine/runs.test/parameter/case.yaml":   "params: {leats: 1}\n",
		"mine/runs.test/tolerance/runs.csv":    runs,
		"mine/runs.test/tolerance/case.yaml":   "tolerance: {baro_kpa: small}\n",
		"mine/runs.test/tolerance/expect.csv":  "baro_kpa\n99.5\n98\n",
		"mine/runs.test/refused/case.yaml":     "params: {least: x}\nerror: want a number\n",
		"mine/runs.test/unrefused/case.yaml":   "params: {least: 1}\nerror: want a number\n",
		"mine/declared.sql":                    q,
		"mine/declared.test/missing/runs.csv":  runs,
		"mine/declared.test/missing/case.yaml": "params: {least: 200}\n",
	})
	set, err := Load(dir)
	if err != nil || len(set.Problems) > 0 {
		t.Fatal(err, set.Problems)
	}
	outcomes, err := Test(t.Context(), set, "mine")
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{ // By case: what a failure says, empty where it holds.
		"holds": "", "nothing": "", "refused": "",
		"off":       "expect.csv:2:1: vehicle: got v1, want v2|expect.csv:2:4: baro_kpa: got 99.5, want 99.4|expect.csv:3:2: baro_kpa: got 98, want NULL",
		"some":      "got 2 rows, want none; the first is vehicle=v1",
		"rows":      "got 2 rows, want 1",
		"name":      `expect.csv:1:9: the answer has no column "barro_kpa" (did you mean "baro_kpa"?)`,
		"view":      `rnus.csv:1:1: there is no view "rnus" (did you mean "runs"?)`,
		"column":    `runs.csv:1:8: view runs has no column "vehicel" (did you mean "vehicle"?)`,
		"ragged":    "runs.csv:2:1: wrong number of fields",
		"value":     "runs",
		"yaml":      "case.yaml",
		"parameter": `"leats" is unknown (did you mean "least"?)`,
		"tolerance": `read tolerance "small"`,
		"unrefused": "want an error that says",
		"missing":   `declared column "n" is not in the answer`,
	}
	for _, o := range outcomes {
		name := o.Case[strings.LastIndex(o.Case, "/")+1:]
		text := strings.Join(o.Fails, "\n")
		if want[name] == "" && text != "" {
			t.Errorf("%s: %s", name, text)
		}
		for _, w := range strings.Split(want[name], "|") {
			if !strings.Contains(text, w) || w != "" && text == "" {
				t.Errorf("%s says %q, want %q", name, text, w)
			}
		}
		delete(want, name)
	}
	if len(want) > 0 {
		t.Errorf("did not run %v", want)
	}
	if _, err := Test(t.Context(), set, "mien"); err == nil || !strings.Contains(err.Error(), `did you mean "mine`) {
		t.Errorf("a misspelt pack gave %v", err)
	}
}
