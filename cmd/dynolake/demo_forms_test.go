package main

import (
	"strings"
	"testing"
)

// The demo's lake holds every form; one run of it has four recorders of as many forms, each at its place on one clock, and what the
// comparisons stand on is there: both sides of the compressor, the cooler, the turbo's speed, coastdowns, and a filter that loads up
// over weeks and is burnt off.
func TestTheDemoHasEveryForm(t *testing.T) {
	lake := demoLakeFolder(t)
	forms := map[string]float64{}
	for _, r := range askJSON(t, lake, "--sql", "SELECT form, count(*) AS n FROM sources GROUP BY form") {
		forms[r.text("form")] = r.num("n")
	}
	for _, form := range []string{"delimited", "workbook", "mdf4", "can", "columnar"} {
		if !(forms[form] >= 4) {
			t.Errorf("%v sources of form %s, want some", forms[form], form)
		}
	}
	many := askJSON(t, lake, "--sql", "SELECT run_id, string_agg(form, ' ' ORDER BY form) AS forms, count(DISTINCT shift_s) AS places FROM sources GROUP BY run_id HAVING count(DISTINCT form) > 3")
	if len(many) < 2 {
		t.Errorf("%d runs have four recorders of as many forms, want 2 sweeps", len(many))
	}
	for _, r := range many {
		if r.text("forms") != "can delimited mdf4 workbook" || r.num("places") < 3 {
			t.Errorf("recorders of one run: %v", r)
		}
	}
	packed := askJSON(t, lake, "--sql", "SELECT source FROM sources WHERE source LIKE '%.gz' OR source LIKE '%.zst' OR source LIKE '%.zip%'")
	seen := map[string]bool{}
	for _, r := range packed {
		for _, ending := range []string{".gz", ".zst", ".zip/"} {
			seen[ending] = seen[ending] || strings.Contains(r.text("source"), ending)
		}
	}
	if len(seen) != 3 || !seen[".gz"] || !seen[".zst"] || !seen[".zip/"] {
		t.Errorf("packed logs: %v", seen)
	}
}

func TestTheDemoHasWhatComparisonsNeed(t *testing.T) {
	lake := demoLakeFolder(t)
	r := askJSON(t, lake, "--sql", `SELECT count(DISTINCT vehicle) FILTER (compressor_eff_frac IS NOT NULL) AS compressor, count(DISTINCT vehicle) FILTER (cooler_eff_frac IS NOT NULL) AS cooler,
		count(DISTINCT vehicle) FILTER (dpf_resist IS NOT NULL) AS filter, count(DISTINCT vehicle) FILTER (turbo_speed_rpm IS NOT NULL) AS turbo, count(DISTINCT vehicle) FILTER (lambda_ratio IS NOT NULL) AS lambda_n
		FROM samples JOIN runs USING (run_id)`)[0]
	for name, least := range map[string]float64{"compressor": 3, "cooler": 3, "filter": 3, "turbo": 1, "lambda_n": 5} {
		if !(r.num(name) >= least) {
			t.Errorf("%s: %v vehicles, want %v", name, r[name], least)
		}
	}
	coast := askJSON(t, lake, "--sql", "SELECT count(DISTINCT vehicle) AS n FROM segments JOIN runs USING (run_id) WHERE kind = 'coast' AND test = 'coast'")[0]
	regen := askJSON(t, lake, "--sql", "SELECT count(*) AS n FROM segments JOIN runs USING (run_id) WHERE kind = 'regen' AND vehicle = 'invented-truck-f'")[0]
	if coast.num("n") < 5 || regen.num("n") != 2 {
		t.Errorf("coastdowns of %v vehicles, %v regenerations, want 5 and 2", coast["n"], regen["n"])
	}
	// In full-load pulls the filter's resistance rises from week to week and falls at a regeneration alone.
	weeks := askJSON(t, lake, "--sql", `SELECT started_at, median(dpf_resist) AS resist, max(soot_g) AS soot FROM samples JOIN runs USING (run_id)
		WHERE vehicle = 'invented-truck-f' AND test = 'sweep' AND pedal_pct > 99 GROUP BY run_id, started_at ORDER BY started_at`)
	fell := 0
	for i := 1; i < len(weeks); i++ {
		if weeks[i].num("resist") < weeks[i-1].num("resist") {
			fell++
			if !(weeks[i].num("soot") < weeks[i-1].num("soot")) {
				t.Errorf("the filter's resistance falls on %v without a regeneration", weeks[i]["started_at"])
			}
		}
	}
	if len(weeks) < 18 || fell != 2 {
		t.Errorf("%d dates, the resistance falls %d times, want about 20 and 2", len(weeks), fell)
	}
}
