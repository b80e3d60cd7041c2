package main

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"dynolake/cmd/dynolake/demo"
)

// What comparisons, limits and lambda say of the demo lies near the model's truth: lambda within 2 %, limits within 3 %, and of the
// intervals of a difference most hold it.
func TestTheDemoComparesWithItsTruth(t *testing.T) {
	lake := demoLakeFolder(t)
	truth, cases, y := counted(t)
	y.lambdas(askJSON(t, lake, "air/lambda", "--param", "basis=measured"), cases)
	y.exhaustLimits(askJSON(t, lake, "backpressure/limit", "--param", "limit_kpa=18"), cases, 18)
	y.margins(askJSON(t, lake, "limits/margin"), cases)
	y.steps(t, lake, cases)
	y.same(t, lake, truth.Same)
	for what, n := range y.n {
		t.Logf("%-28s %4d values, worst off by %.2f %%", what, n, 100*y.worst[what])
	}
}

func (y *tally) lambdas(rows []row, cases map[string]demo.Case) {
	got := map[string]row{}
	for _, r := range rows {
		got[fmt.Sprint(r.text("vehicle"), " ", r.text("calibration"), " ", r.num("wheel_power_kw"))] = r
	}
	for at, c := range cases {
		for _, p := range c.ByPower {
			if r, ok := got[fmt.Sprint(at, " ", p.PowerKW)]; ok {
				y.near("lambda by power", fmt.Sprint(at, " ", p.PowerKW), r.num("lambda_median"), p.Lambda, 0.02)
			}
		}
	}
	if y.n["lambda by power"] < 100 {
		y.t.Errorf("air/lambda has %d bins of the truth", y.n["lambda by power"])
	}
}

// exhaustLimits reads the truth where its own bins cross the limit.
func (y *tally) exhaustLimits(rows []row, cases map[string]demo.Case, limit float64) {
	for _, r := range rows {
		at := r.text("vehicle") + " " + r.text("calibration")
		p := cases[at].ByPower
		want := math.NaN()
		for i := 1; i < len(p); i++ {
			if p[i-1].ExhaustGaugeKPa < limit && p[i].ExhaustGaugeKPa >= limit {
				share := (limit - p[i-1].ExhaustGaugeKPa) / (p[i].ExhaustGaugeKPa - p[i-1].ExhaustGaugeKPa)
				want = p[i-1].PowerKW + share*(p[i].PowerKW-p[i-1].PowerKW)
			}
		}
		if !math.IsNaN(want) && r.num("n") > 0 {
			y.near("exhaust limit", at, r.num("wheel_power_kw"), want, 0.03)
			if r.text("basis") != "measured" {
				y.t.Errorf("exhaust limit of %s: basis %q, want measured", at, r.text("basis"))
			}
		}
	}
	if y.n["exhaust limit"] == 0 {
		y.t.Error("no vehicle of the demo meets the exhaust's limit")
	}
}

func (y *tally) margins(rows []row, cases map[string]demo.Case) {
	for _, r := range rows {
		at := r.text("vehicle") + " " + r.text("calibration")
		if r.text("quantity") != "drive_ratio" || math.IsNaN(r.num("worst")) {
			continue
		}
		highest := 0.0 // The truth's bins end at 98 % of peak power.
		for _, p := range cases[at].ByPower {
			if p.PowerKW > r.num("at_power_kw")/2 {
				highest = math.Max(highest, p.DriveRatio)
			}
		}
		y.n["worst drive ratio"]++
		if worst := r.num("worst"); worst < 0.98*highest {
			y.t.Errorf("worst drive ratio of %s = %.3f, truth at least %.3f", at, worst, highest)
		}
		for _, o := range cases[at].Onsets {
			if o.Threshold == r.num("bound") && !math.IsNaN(o.PowerKW) {
				y.near("drive ratio's limit", at, r.num("expected_power_kw"), o.PowerKW, 0.03)
			}
		}
		if left := r.num("bound") - r.num("worst"); math.Abs(left-r.num("margin")) > 2e-4 {
			y.t.Errorf("margin of %s = %v, want %v", at, r.num("margin"), left)
		}
	}
}

// steps holds each calibration's gain over stock against the model's curves.
func (y *tally) steps(t *testing.T, lake string, cases map[string]demo.Case) {
	held, all := 0, 0
	for _, step := range []string{"step1", "step2", "step3"} {
		for _, r := range askJSON(t, lake, "torque/delta", "--param", "base=stock", "--param", "candidate="+step) {
			base, candidate := cases[r.text("vehicle")+" stock"], cases[r.text("vehicle")+" "+step]
			want := torqueAt(candidate, r.num("engine_speed_rpm")) - torqueAt(base, r.num("engine_speed_rpm"))
			if math.IsNaN(want) {
				continue
			}
			if off := math.Abs(r.num("delta_nm") - want); off > 0.03*torqueAt(base, r.num("engine_speed_rpm")) {
				t.Errorf("gain of %s %s at %v: %.1f N·m, truth %.1f", r.text("vehicle"), step, r.num("engine_speed_rpm"), r.num("delta_nm"), want)
			}
			if math.IsNaN(r.num("lo95")) {
				continue
			}
			all++
			if r.num("lo95") <= want && want <= r.num("hi95") {
				held++
			}
		}
	}
	t.Logf("torque gain: the interval holds the truth in %d of %d bins", held, all)
	if all < 300 || held*100 < all*90 {
		t.Errorf("torque/delta: the interval holds the truth in %d of %d bins", held, all)
	}
}

func torqueAt(c demo.Case, rpm float64) float64 {
	for _, p := range c.BySpeed {
		if p.RPM == rpm {
			return p.TorqueNM
		}
	}
	return math.NaN()
}

// same asks of calibrations between which nothing was changed.
func (y *tally) same(t *testing.T, lake string, pairs []demo.Pair) {
	for _, p := range pairs {
		var rows []row
		out := dynolake(t, "--lake", lake, "--format", "json", "compare", p.Base, p.Candidate, "--vehicle", p.Vehicle)
		if err := json.Unmarshal(out, &rows); err != nil {
			t.Fatal(err)
		}
		differ, bins := 0, 0
		for _, r := range rows {
			if r.text("quantity") != "torque" {
				continue
			}
			bins++
			if r.text("verdict") != "no difference shown" {
				differ++
			}
			if r.text("verdict_all") != "no difference shown" {
				t.Errorf("%s against %s of %s: the torque curve as a whole shows %s", p.Candidate, p.Base, p.Vehicle, r.text("verdict_all"))
			}
		}
		t.Logf("%s against %s of %s: %d of %d bins differ", p.Candidate, p.Base, p.Vehicle, differ, bins)
		if bins == 0 {
			t.Errorf("%s against %s of %s: nothing compared", p.Candidate, p.Base, p.Vehicle)
		}
	}
	if len(pairs) == 0 {
		t.Error("the demo has no equal calibrations")
	}
}
