package demo

import (
	"math"
	"slices"
	"sync"
	"testing"
)

var scenario = sync.OnceValue(Scenario)

func TestScenarioHasTheShapeItClaims(t *testing.T) {
	tr := scenario()
	if n := len(tr.Runs); n < 90 || n > 100 {
		t.Errorf("%d runs, want about 95", n)
	}
	vehicles, platforms, duties, tests := map[string]int{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, c := range tr.Cases {
		vehicles[c.Vehicle]++
		platforms[c.Platform], duties[c.Duty] = true, true
		if c.Pulls < 6 || len(c.BySpeed) < 13 || len(c.ByPower) < 6 {
			t.Errorf("%s %s: %d pulls, %d bins of speed, %d of power", c.Vehicle, c.Calibration, c.Pulls, len(c.BySpeed), len(c.ByPower))
		}
	}
	for _, r := range tr.Runs {
		tests[r.Test] = true
	}
	if len(vehicles) < 5 || len(platforms) != 3 || len(duties) != 2 || len(tests) != 5 {
		t.Errorf("vehicles %v, platforms %v, duties %v, tests %v", vehicles, platforms, duties, tests)
	}
	for v, n := range vehicles {
		if n != 4 {
			t.Errorf("%s has %d calibrations, want 4", v, n)
		}
	}
	span := tr.Runs[len(tr.Runs)-1].StartedAt.Sub(tr.Runs[0].StartedAt).Hours() / 24
	if span < 135 || span > 190 {
		t.Errorf("the runs span %.0f days, want about six months", span)
	}
	if !slices.Contains(tr.Same, Pair{"invented-car-b", "step1", "step2"}) || len(tr.Same) != 1 {
		t.Errorf("calibrations without a change: %v", tr.Same)
	}
}

func TestTruthAgreesWithItself(t *testing.T) {
	for _, c := range scenario().Cases {
		what := c.Vehicle + " " + c.Calibration
		near(t, what+" highest power", c.HighestPowerKW, c.PeakPowerKW, 0.02)
		for _, p := range c.BySpeed {
			near(t, what+" power", p.PowerKW, p.TorqueNM*p.RPM/9549.297, 0.01)
			if p.PowerKW > c.PeakPowerKW || p.TorqueNM > c.PeakTorqueNM*1.0001 {
				t.Errorf("%s at %.0f: %.1f kW, %.1f N·m lie above the peaks", what, p.RPM, p.PowerKW, p.TorqueNM)
			}
		}
		for i, p := range c.ByPower {
			near(t, what+" ratio", p.DriveRatio, p.NetDriveKPa/p.BoostKPa, 0.01)
			if p.GrossRatio <= p.DriveRatio || p.ExhaustGaugeKPa <= p.DPFDeltaKPa {
				t.Errorf("%s at %.1f kW: gross %.3f, net %.3f, exhaust %.2f, filter %.2f", what, p.PowerKW, p.GrossRatio, p.DriveRatio, p.ExhaustGaugeKPa, p.DPFDeltaKPa)
			}
			if i > 0 && p.ExhaustGaugeKPa <= c.ByPower[i-1].ExhaustGaugeKPa {
				t.Errorf("%s: exhaust falls at %.1f kW", what, p.PowerKW)
			}
		}
	}
}

// After its minimum the ratio only rises (but for a dip of 0.005 at most where the boost catches up with its target), in every pull, so that an
// onset is one power and no more.
func TestRatioRisesAfterItsMinimum(t *testing.T) {
	for _, v := range fleet() {
		for step := range v.steps {
			tr := Default().run(one(t, v.id, "sweep", step), true, nil)
			for _, s := range tr.pulls {
				least, peak := s.from, s.from
				for i := s.from; i < s.to; i++ {
					if tr.rows[i][atPower] > tr.rows[peak][atPower] {
						peak = i
					}
				}
				for i := s.from; i < peak; i++ {
					if q := ratioOf(&tr.rows[i]); q < ratioOf(&tr.rows[least]) || math.IsNaN(ratioOf(&tr.rows[least])) {
						least = i
					}
				}
				for tr.rows[least][atSpeed] < tr.rows[s.from][atSpeed]+speedBin {
					least++ // The brake still holds the speed.
				}
				highest := 0.0
				for i := least; i < peak; i++ {
					a, b := &tr.rows[i], &tr.rows[i+1]
					highest = max(highest, ratioOf(a))
					if ratioOf(b) < highest-0.005 || b[atPower] < a[atPower]-0.02 {
						t.Fatalf("%s %s: at %.0f 1/min the ratio goes from %.4f to %.4f, power from %.3f to %.3f", v.id, v.steps[step].name, a[atSpeed], ratioOf(a), ratioOf(b), a[atPower], b[atPower])
					}
				}
			}
		}
	}
}

// Each calibration either passes a threshold plainly or stays plainly below it, so that scatter cannot turn the verdict.
func TestOnsetsAreClear(t *testing.T) {
	reached := map[float64]int{}
	for _, c := range scenario().Cases {
		top, before := c.ByPower[len(c.ByPower)-1].DriveRatio, 0.0
		if c.RatioMin > 0.95 {
			t.Errorf("%s %s: the least ratio is %.3f, too near 1", c.Vehicle, c.Calibration, c.RatioMin)
		}
		for _, o := range c.Onsets {
			switch {
			case math.IsNaN(o.PowerKW):
				if top > o.Threshold {
					t.Errorf("%s %s: %.3f at the top passes %.1f, yet no onset", c.Vehicle, c.Calibration, top, o.Threshold)
				}
			case o.PowerKW <= before || o.PowerKW > c.PeakPowerKW:
				t.Errorf("%s %s: onset of %.1f at %.1f kW after %.1f, peak %.1f", c.Vehicle, c.Calibration, o.Threshold, o.PowerKW, before, c.PeakPowerKW)
			default:
				before = o.PowerKW
				reached[o.Threshold]++
			}
		}
	}
	if reached[1] != 24 || reached[1.5] < 6 || reached[1.5] > 18 || reached[2] < 3 || reached[2] >= reached[1.5] {
		t.Errorf("thresholds reached by so many of 24 calibrations: %v", reached)
	}
}

// The ratio at peak power, where a threshold is reached or missed, keeps away from every threshold.
func TestPeakRatioKeepsAwayFromThresholds(t *testing.T) {
	for _, v := range fleet() {
		if v.basis == "gross" {
			continue // Its net ratio is never asked for.
		}
		for step := range v.steps {
			tr := Default().run(one(t, v.id, "sweep", step), true, nil)
			peak := &tr.rows[tr.pulls[0].from]
			for i := tr.pulls[0].from; i < tr.pulls[0].to; i++ {
				if tr.rows[i][atPower] > peak[atPower] {
					peak = &tr.rows[i]
				}
			}
			for _, threshold := range thresholds {
				if q := ratioOf(peak) / threshold; q > 0.96 && q < 1.06 {
					t.Errorf("%s %s: %.3f at peak power is too near %.1f", v.id, v.steps[step].name, ratioOf(peak), threshold)
				}
			}
		}
	}
	for _, c := range scenario().Cases {
		for _, o := range c.Onsets {
			if c.PeakPowerKW-o.PowerKW < 2 {
				t.Errorf("%s %s: onset of %.1f at %.1f kW is too near the peak of %.1f", c.Vehicle, c.Calibration, o.Threshold, o.PowerKW, c.PeakPowerKW)
			}
		}
	}
}

// Halving the step changes nothing by 0.1 %.
func TestStepIsFineEnough(t *testing.T) {
	for _, v := range fleet() {
		plans := []plan{one(t, v.id, "sweep", 3), one(t, v.id, "road", 3)}
		fine := Default()
		fine.Step /= 2
		a, b := Default().truth(plans), fine.truth(plans)
		compare(t, v.id, a.Cases[0], b.Cases[0])
		for i, s := range a.Runs[1].Shifts {
			near(t, v.id+" shift", s.EngineSpeedRPM, b.Runs[1].Shifts[i].EngineSpeedRPM, 0.001)
		}
	}
}

func compare(t *testing.T, what string, a, b Case) {
	t.Helper()
	near(t, what+" peak power", a.PeakPowerKW, b.PeakPowerKW, 0.001)
	near(t, what+" peak torque", a.PeakTorqueNM, b.PeakTorqueNM, 0.001)
	for i, o := range a.Onsets {
		near(t, what+" onset", o.PowerKW, b.Onsets[i].PowerKW, 0.001)
	}
	for i, p := range a.ByPower {
		if i >= len(b.ByPower) || p.PowerKW != b.ByPower[i].PowerKW {
			t.Fatalf("%s: the bins of power differ", what)
		}
		q := b.ByPower[i]
		near(t, what+" ratio", p.DriveRatio, q.DriveRatio, 0.001)
		near(t, what+" exhaust", p.ExhaustGaugeKPa, q.ExhaustGaugeKPa, 0.001)
		near(t, what+" λ", p.Lambda, q.Lambda, 0.001)
	}
	for i, p := range a.BySpeed {
		near(t, what+" torque", p.TorqueNM, b.BySpeed[i].TorqueNM, 0.001)
	}
}

// The controller meets its schedule, whatever the calibration; while the boost still builds it is a little late: within 0.8 %.
func TestShiftsFollowTheSchedule(t *testing.T) {
	byPlatform := map[string]*vehicle{}
	for _, v := range fleet() {
		byPlatform[v.platform] = v
	}
	pedals := map[float64]bool{}
	for _, u := range scenario().Upshifts {
		near(t, u.Platform, u.EngineSpeedRPM, byPlatform[u.Platform].drive.shiftSpeed(u.FromGear, u.PedalPct), 0.008)
		pedals[u.PedalPct] = true
	}
	if len(pedals) != 5 || len(scenario().Upshifts) < 30 {
		t.Errorf("pedals %v, %d points", pedals, len(scenario().Upshifts))
	}
}

// Where nothing was changed the pulls' scatter must not look like a difference: Welch's t below 2.
func TestUnchangedCalibrationLooksUnchanged(t *testing.T) {
	gains := map[string][]float64{}
	for _, p := range Default().plans() {
		if p.v.id == "invented-car-b" && p.kind == "sweep" {
			gains[p.calibration().name] = append(gains[p.calibration().name], p.gains...)
		}
	}
	moments := func(v []float64) (mean, variance float64) {
		for _, x := range v {
			mean += x / float64(len(v))
		}
		for _, x := range v {
			variance += (x - mean) * (x - mean) / float64(len(v)-1)
		}
		return mean, variance / float64(len(v))
	}
	a, va := moments(gains["step1"])
	b, vb := moments(gains["step2"])
	if w := (a - b) / math.Sqrt(va+vb); math.Abs(w) > 2 {
		t.Errorf("t = %.2f from scatter alone", w)
	}
}
