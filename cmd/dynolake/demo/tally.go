package demo

import (
	"cmp"
	"math"
	"slices"
)

// tally gathers the truth run by run.
type tally struct {
	out      Truth
	vehicles []*vehicle
	pulls    map[caseKey][]measured
	shifts   map[shiftKey][]float64
}

type caseKey struct {
	vehicle string
	step    int
}

type shiftKey struct {
	platform string
	gear     int
	pedal    float64
}

func newTally(m Model) *tally {
	return &tally{out: Truth{Seed: m.Seed}, vehicles: m.vehicles(), pulls: map[caseKey][]measured{}, shifts: map[shiftKey][]float64{}}
}

// add takes a noiseless run; run says what files hold it, where there are any.
func (t *tally) add(p plan, tr *trace, run RunTruth) {
	run.Vehicle, run.Calibration, run.Test, run.Part = p.v.id, p.calibration().name, p.kind, p.part
	run.StartedAt, run.DurationS, run.Shifts = p.start, tr.duration(), tr.shifts
	for _, s := range tr.pulls {
		m := measure(tr, s)
		run.Pulls = append(run.Pulls, PullTruth{
			Gear: s.gear, FromS: float64(s.from) * tr.dt, ToS: float64(s.to-1) * tr.dt,
			PeakPowerKW: m.peakPower, AtRPM: m.peakRPM, PeakTorqueNM: m.peakTorque, TorqueRPM: m.torqueRPM,
		})
		if p.kind == "sweep" {
			k := caseKey{p.v.id, p.step}
			t.pulls[k] = append(t.pulls[k], m)
		}
	}
	if p.v.drive.automatic {
		for _, s := range tr.shifts {
			k := shiftKey{p.v.platform, s.FromGear, math.Round(s.PedalPct)}
			t.shifts[k] = append(t.shifts[k], s.EngineSpeedRPM)
		}
	}
	t.out.Runs = append(t.out.Runs, run)
}

// truth closes the tally.
func (t *tally) truth() Truth {
	for _, v := range t.vehicles {
		for i, c := range v.steps {
			if pulls := t.pulls[caseKey{v.id, i}]; len(pulls) > 0 {
				t.out.Cases = append(t.out.Cases, summary(v, c, pulls))
			}
			if i > 0 && c.torque == v.steps[i-1].torque && c.boost == v.steps[i-1].boost && c.lambda == v.steps[i-1].lambda {
				t.out.Same = append(t.out.Same, Pair{v.id, v.steps[i-1].name, c.name})
			}
		}
	}
	for k, speeds := range t.shifts {
		t.out.Upshifts = append(t.out.Upshifts, PedalPoint{k.platform, k.gear, k.pedal, median(speeds), len(speeds)})
	}
	slices.SortFunc(t.out.Upshifts, func(a, b PedalPoint) int {
		return cmp.Or(cmp.Compare(a.Platform, b.Platform), cmp.Compare(a.FromGear, b.FromGear), cmp.Compare(a.PedalPct, b.PedalPct))
	})
	return t.out
}

func summary(v *vehicle, c step, pulls []measured) Case {
	out := Case{
		Vehicle: v.id, Platform: v.platform, Duty: v.duty, Calibration: c.name, Test: "sweep", Gear: v.drive.pullGear, Basis: v.basis,
		TorqueFactor: c.torque, Pulls: len(pulls),
		PeakPowerKW:   over(pulls, func(m *measured) float64 { return m.peakPower }),
		PeakPowerRPM:  over(pulls, func(m *measured) float64 { return m.peakRPM }),
		PeakTorqueNM:  over(pulls, func(m *measured) float64 { return m.peakTorque }),
		PeakTorqueRPM: over(pulls, func(m *measured) float64 { return m.torqueRPM }),
		RatioMin:      over(pulls, func(m *measured) float64 { return m.ratioMin }),
	}
	for i := range pulls {
		out.HighestPowerKW = max(out.HighestPowerKW, pulls[i].peakPower)
	}
	for k, threshold := range thresholds {
		out.Onsets = append(out.Onsets, Onset{threshold, over(pulls, func(m *measured) float64 { return m.onset[k] })})
	}
	mean := func(power bool, k int, f func(*sums) float64) float64 {
		return over(pulls, func(m *measured) float64 {
			bins := m.bySpeed
			if power {
				bins = m.byPower
			}
			return f(bins[k]) / bins[k].n
		})
	}
	for _, k := range within(pulls, speedBin, func(m *measured) float64 { return m.settledRPM }, func(m *measured) float64 { return m.lastRPM }) {
		out.BySpeed = append(out.BySpeed, SpeedPoint{
			RPM:             (float64(k) + 0.5) * speedBin,
			TorqueNM:        mean(false, k, func(s *sums) float64 { return s.torque }),
			PowerKW:         mean(false, k, func(s *sums) float64 { return s.power }),
			BoostKPa:        mean(false, k, func(s *sums) float64 { return s.boost }),
			ExhaustGaugeKPa: mean(false, k, func(s *sums) float64 { return s.gauge }),
		})
	}
	for _, k := range within(pulls, powerBin, func(m *measured) float64 { return m.settledKW }, func(m *measured) float64 { return wholeTo * m.peakPower }) {
		out.ByPower = append(out.ByPower, PowerPoint{
			PowerKW:         (float64(k) + 0.5) * powerBin,
			BoostKPa:        mean(true, k, func(s *sums) float64 { return s.boost }),
			NetDriveKPa:     mean(true, k, func(s *sums) float64 { return s.net }),
			DriveRatio:      mean(true, k, func(s *sums) float64 { return s.ratio }),
			GrossRatio:      mean(true, k, func(s *sums) float64 { return s.gross }),
			ExhaustGaugeKPa: mean(true, k, func(s *sums) float64 { return s.gauge }),
			DPFDeltaKPa:     mean(true, k, func(s *sums) float64 { return s.dpf }),
			Lambda:          mean(true, k, func(s *sums) float64 { return s.lam }),
		})
	}
	return out
}
