package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"dynolake/cmd/dynolake/demo"
)

type row map[string]any

func (r row) num(name string) float64 {
	v, ok := r[name].(float64)
	if !ok {
		return math.NaN()
	}
	return v
}

func (r row) text(name string) string { s, _ := r[name].(string); return s }

// dynolake runs one command and gives its stdout; it fails the test when the command does.
func dynolake(t *testing.T, args ...string) []byte {
	t.Helper()
	var out, errs bytes.Buffer
	if code := run(context.Background(), append([]string{"dynolake"}, args...), &out, &errs); code != 0 {
		t.Fatalf("dynolake %s: exit %d\n%s", strings.Join(args, " "), code, errs.String())
	}
	return out.Bytes()
}

func askJSON(t *testing.T, lake string, args ...string) []row {
	t.Helper()
	var rows []row
	if err := json.Unmarshal(dynolake(t, append([]string{"--lake", lake, "--format", "json", "query"}, args...)...), &rows); err != nil {
		t.Fatalf("query %v: %v", args, err)
	}
	return rows
}

// tally holds answers against the truth and remembers the worst of each.
type tally struct {
	t     *testing.T
	n     map[string]int
	worst map[string]float64
}

func (y *tally) near(what, where string, got, want, share float64) {
	y.t.Helper()
	off := math.Abs(got-want) / math.Abs(want)
	y.n[what]++
	y.worst[what] = math.Max(y.worst[what], off)
	if !(off <= share) {
		y.t.Errorf("%s of %s = %.5g, truth %.5g: off by %.2f %%, at most %.0f %%", what, where, got, want, 100*off, 100*share)
	}
}

// Every pack's answer on the demo lies within 2 % of the model's truth, onsets within 3 %, shift speeds within 1 %.
func TestTheDemoAnswersWithItsTruth(t *testing.T) {
	lake := demoLakeFolder(t)
	truth, cases, y := counted(t)
	y.peaks(askJSON(t, lake, "torque/peak"), cases)
	y.curves(askJSON(t, lake, "torque/curve"), cases)
	y.powers(askJSON(t, lake, "drive/by_power"), cases)
	y.exhaust(askJSON(t, lake, "backpressure/by_power"), cases)
	y.onsets(askJSON(t, lake, "drive/onset"), cases)
	y.shifts(askJSON(t, lake, "shift/by_pedal"), truth.Upshifts)
	y.points(askJSON(t, lake, "shift/points"), truth)
	y.platforms(askJSON(t, lake, "platform/summary"), truth)
	for what, n := range y.n {
		t.Logf("%-28s %4d values, worst off by %.2f %%", what, n, 100*y.worst[what])
	}
}

func (y *tally) peaks(rows []row, cases map[string]demo.Case) {
	for _, r := range rows {
		at := r.text("vehicle") + " " + r.text("calibration")
		c := cases[at]
		y.near("peak power", at, r.num("peak_power_kw"), c.PeakPowerKW, 0.02)
		y.near("peak torque", at, r.num("peak_torque_nm"), c.PeakTorqueNM, 0.02)
		y.near("engine speed of peak power", at, r.num("at_rpm"), c.PeakPowerRPM, 0.02)
		if int(r.num("n_pulls")) != c.Pulls {
			y.t.Errorf("%s: %v pulls, truth %d", at, r["n_pulls"], c.Pulls)
		}
		delete(cases, at+"!")
	}
	if len(rows) != len(cases) {
		y.t.Errorf("torque/peak has %d rows, the fleet has %d cases", len(rows), len(cases))
	}
}

func (y *tally) curves(rows []row, cases map[string]demo.Case) {
	got := map[string]row{}
	for _, r := range rows {
		got[fmt.Sprint(r.text("vehicle"), " ", r.text("calibration"), " ", r.num("engine_speed_rpm"))] = r
	}
	for at, c := range cases {
		for _, p := range c.BySpeed {
			key := fmt.Sprint(at, " ", p.RPM)
			y.near("torque by speed", key, got[key].num("torque_nm"), p.TorqueNM, 0.02)
			y.near("power by speed", key, got[key].num("power_kw"), p.PowerKW, 0.02)
		}
	}
}

func (y *tally) powers(rows []row, cases map[string]demo.Case) {
	got := map[string]row{}
	for _, r := range rows {
		got[fmt.Sprint(r.text("vehicle"), " ", r.text("calibration"), " ", r.num("wheel_power_kw"))] = r
	}
	for at, c := range cases {
		if c.Basis == "gross" {
			continue
		}
		for _, p := range c.ByPower {
			key := fmt.Sprint(at, " ", p.PowerKW)
			y.near("boost by power", key, got[key].num("boost_kpa"), p.BoostKPa, 0.02)
			y.near("net drive by power", key, got[key].num("net_drive_kpa"), p.NetDriveKPa, 0.02)
			y.near("drive ratio by power", key, got[key].num("drive_ratio"), p.DriveRatio, 0.02)
		}
	}
}

func (y *tally) exhaust(rows []row, cases map[string]demo.Case) {
	got := map[string]row{}
	for _, r := range rows {
		got[fmt.Sprint(r.text("vehicle"), " ", r.text("calibration"), " ", r.num("wheel_power_kw"))] = r
	}
	for at, c := range cases {
		for _, p := range c.ByPower {
			key := fmt.Sprint(at, " ", p.PowerKW)
			if r, ok := got[key]; ok && !math.IsNaN(r.num("exhaust_gauge_kpa")) {
				y.near("exhaust by power", key, r.num("exhaust_gauge_kpa"), p.ExhaustGaugeKPa, 0.02)
			}
		}
	}
}

func (y *tally) onsets(rows []row, cases map[string]demo.Case) {
	got := map[string]row{}
	for _, r := range rows {
		got[fmt.Sprint(r.text("vehicle"), " ", r.text("calibration"), " ", r.num("threshold"))] = r
	}
	for at, c := range cases {
		if c.Basis == "gross" {
			continue
		}
		for _, o := range c.Onsets {
			key := fmt.Sprint(at, " ", o.Threshold)
			r, ok := got[key]
			switch answer := r.num("wheel_power_kw"); {
			case !ok:
				y.t.Errorf("onset of %s: no row", key)
			case math.IsNaN(o.PowerKW) != math.IsNaN(answer):
				y.t.Errorf("onset of %s = %v, truth %v", key, answer, o.PowerKW)
			case !math.IsNaN(answer):
				y.near("onset", key, answer, o.PowerKW, 0.03)
			}
		}
	}
}

func (y *tally) shifts(rows []row, upshifts []demo.PedalPoint) {
	got := map[string]row{}
	for _, r := range rows {
		got[fmt.Sprint(r.text("platform"), " ", r.num("from_gear"), " ", r.num("pedal_pct"))] = r
	}
	bins := map[string][]demo.PedalPoint{}
	for _, p := range upshifts {
		bin := math.Min(math.Floor(p.PedalPct/10)*10+5, 95)
		key := fmt.Sprint(p.Platform, " ", float64(p.FromGear), " ", bin)
		bins[key] = append(bins[key], p)
	}
	for key, points := range bins {
		if len(points) > 1 {
			continue // Two pedals of the model in one bin: the median depends on how many of each.
		}
		y.near("shift by pedal", key, got[key].num("engine_speed_rpm"), points[0].EngineSpeedRPM, 0.01)
		if n := int(got[key].num("n")); n != points[0].N {
			y.t.Errorf("shift by pedal of %s: n = %d, truth %d", key, n, points[0].N)
		}
	}
}

// points holds the number of upshifts, all runs together, against the truth.
func (y *tally) points(rows []row, truth demo.Truth) {
	got, want := 0, 0
	for _, r := range rows {
		if r.num("to_gear") > r.num("from_gear") {
			got++
		}
	}
	for _, r := range truth.Runs {
		want += len(r.Shifts)
	}
	if got != want {
		y.t.Errorf("shift/points has %d upshifts, truth %d", got, want)
	}
}

func (y *tally) platforms(rows []row, truth demo.Truth) {
	for _, r := range rows {
		peak, torque := 0.0, 0.0
		for _, c := range truth.Cases {
			if c.Platform == r.text("platform") {
				peak, torque = math.Max(peak, c.PeakPowerKW), math.Max(torque, c.PeakTorqueNM)
			}
		}
		y.near("platform peak power", r.text("platform"), r.num("peak_power_kw"), peak, 0.02)
		y.near("platform peak torque", r.text("platform"), r.num("peak_torque_nm"), torque, 0.02)
	}
	if len(rows) != 3 {
		y.t.Errorf("platform/summary has %d rows, want a row for each of 3 platforms", len(rows))
	}
}

// counted is the scenario's truth, its cases by vehicle and calibration, and an empty tally.
func counted(t *testing.T) (demo.Truth, map[string]demo.Case, *tally) {
	truth := demo.Scenario()
	y := &tally{t, map[string]int{}, map[string]float64{}}
	cases := map[string]demo.Case{}
	for _, c := range truth.Cases {
		cases[c.Vehicle+" "+c.Calibration] = c
	}
	return truth, cases, y
}
