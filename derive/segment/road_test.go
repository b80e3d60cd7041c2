package segment_test

import (
	"math"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"
)

// road drives up and down through the gears with idling, coasting and braking in known places.
func road(c car) (*drive, map[string][2]float64) {
	d := newDrive(c)
	places := map[string][2]float64{}
	mark := func(kind string, do func()) {
		from := d.now()
		do()
		places[kind] = [2]float64{from, d.now()}
	}
	mark("idle", func() { d.idle(8) })
	for g := 1; g < 4; g++ {
		d.accelerate(50, 0.6*c.rated)
		d.shift(g + 1)
	}
	mark("steady", func() { d.cruise(12, 25) })
	mark("coast", func() { d.coast(0.42*c.rated, 1.2) })
	d.pedal = 10
	d.shift(3)
	d.cruise(3, 30)
	d.accelerate(55, 0.62*c.rated)
	d.cruise(2, 20)
	d.coast(0.5*c.rated, 1.5)
	d.shift(2)
	mark("brake", func() { d.stop(9) })
	d.idle(6)
	return d, places
}

func TestRoadDrive(t *testing.T) {
	for _, c := range []car{lightAuto, lightManual, mediumManual} {
		d, places := road(c)
		for name, r := range recorders() {
			t.Run(c.name+"/"+name, func(t *testing.T) {
				f := d.record(r)
				checkShifts(t, d, r, f, c.context("road"), true)
				segments, _ := segment.Find(f, c.context("road"))
				if n := len(kinds(segments, "pull")); n > 0 {
					t.Errorf("%d pulls", n)
				}
				for kind, at := range places {
					if share := covered(segments, kind, at); share < 0.55 {
						t.Errorf("%s covers %.0f %% of %.1f-%.1f: %+v", kind, 100*share, at[0], at[1], kinds(segments, kind))
					}
					for other, there := range places {
						if share := covered(segments, kind, there); other != kind && share > 0.35 {
							t.Errorf("%s covers %.0f %% of %s", kind, 100*share, other)
						}
					}
				}
				for _, s := range kinds(segments, "idle") {
					near(t, "idle speed", s.MeanRPM, c.idle, 0.03*c.idle)
				}
				f.Drop("gear")
				checkShifts(t, d, r, f, c.context("road"), true)
				f.Drop("converter_locked_frac")
				segments, _ = segment.Find(f, c.context("road"))
				if n := len(kinds(segments, "lockup")); n > 0 {
					t.Errorf("%d lock-ups without a converter: %+v", n, kinds(segments, "lockup"))
				}
			})
		}
	}
}

// covered is the share of a stretch of time that segments of a kind cover.
func covered(segments []schema.Segment, kind string, at [2]float64) float64 {
	sum := 0.0
	for _, s := range kinds(segments, kind) {
		sum += math.Max(0, math.Min(s.T1S, at[1])-math.Max(s.T0S, at[0]))
	}
	return sum / (at[1] - at[0])
}

// The converter locks once, in fifth gear: a lock-up by the flag, by the gear that stays, or by the vehicle's ratios; and never
// an upshift.
func TestLockup(t *testing.T) {
	for _, c := range []car{lightAuto, heavyAuto} {
		for _, slip := range []float64{0.04, 0.08, 0.12} {
			d := newDrive(c)
			d.slip, d.gear, d.v = slip, 3, 0.45*c.rated/c.geared(3, 1)
			d.cruise(3, 20)
			d.accelerate(60, 0.6*c.rated)
			d.shift(4)
			d.accelerate(60, d.rpm*1.1)
			d.lockUp()
			d.cruise(3, 30)
			y := d.of("lockup")[0]
			for name, r := range recorders() {
				if r.noise > 0.01 || r.rpmStep == 50 && slip < 0.1 {
					continue // The fall is no larger than the scatter.
				}
				for _, drop := range [][]string{nil, {"gear"}, {"converter_locked_frac"}, {"gear", "converter_locked_frac"}} {
					r.drop = drop
					f := d.record(r)
					segments, _ := segment.Find(f, c.context("road"))
					if n := len(kinds(segments, "shift")); n != 1 {
						t.Errorf("%s slip %g %s without %v: %d shifts, want 1", c.name, slip, name, drop, n)
					}
					locks := kinds(segments, "lockup")
					if len(locks) != 1 {
						if len(drop) < 2 && r.noise == 0 {
							t.Errorf("%s slip %g %s without %v: %d lock-ups, want 1", c.name, slip, name, drop, len(locks))
						}
						continue
					}
					if late := locks[0].T0S - y.t0; math.Abs(late) > 1 {
						t.Errorf("%s slip %g %s without %v: lock-up at %.2f, true %.2f", c.name, slip, name, drop, locks[0].T0S, y.t0)
					}
				}
			}
		}
	}
}

func TestRegen(t *testing.T) {
	f := lightRun(t, 10)
	flag := make([]float64, f.Len())
	for i, at := range f.T {
		switch {
		case at > 3 && at < 6, at > 6.4 && at < 9: // A flicker of 0.4 s does not cut.
			flag[i] = 1
		case at > 12 && at < 13:
			flag[i] = 0.4 // Never fully on.
		}
	}
	f.Set("regen_frac", flag)
	segments, _ := segment.Find(f, segment.Context{Gear: nan})
	got := kinds(segments, "regen")
	if len(got) != 1 {
		t.Fatalf("%d regenerations, want 1: %+v", len(got), got)
	}
	near(t, "start", got[0].T0S, 3.1, 0.11)
	near(t, "end", got[0].T1S, 8.9, 0.11)
}

// Where the state has been derived, from a flag or from heat, it decides.
func TestRegenerationFollowsTheState(t *testing.T) {
	f := lightRun(t, 10)
	state, flag := make([]float64, f.Len()), make([]float64, f.Len())
	for i, at := range f.T {
		if at > 3 && at < 9 {
			state[i] = 1
		}
		if at > 12 && at < 15 {
			flag[i] = 1
		}
	}
	f.Set("regen_active_frac", state)
	f.Set("regen_frac", flag)
	segments, _ := segment.Find(f, segment.Context{Gear: nan})
	got := kinds(segments, "regen")
	if len(got) != 1 {
		t.Fatalf("%d regenerations, want 1: %+v", len(got), got)
	}
	near(t, "start", got[0].T0S, 3.1, 0.11)
	near(t, "end", got[0].T1S, 8.9, 0.11)
}

func lightRun(t *testing.T, rate float64) *schema.Frame {
	t.Helper()
	return climb(lightAuto, 100, 3700, 5).record(recorder{rate: rate, gearVia: 0.5})
}

// Without gear and road speed, upshifts under a pressed pedal are found from the engine speed, with a finding.
func TestShiftsFromEngineSpeedAlone(t *testing.T) {
	for _, c := range cars {
		d := climb(c, 100, 0.92*c.rated, 5)
		for _, rate := range []float64{10, 25, 100} {
			r := recorder{rate: rate, noise: 0.005, gearVia: 0.5, drop: []string{"gear", "vehicle_speed_kmh"}}
			f := d.record(r)
			checkShifts(t, d, r, f, segment.Context{Gear: nan}, false)
			if _, findings := segment.Find(f, segment.Context{Gear: nan}); !has(findings, "shift_from_engine_speed_alone") {
				t.Error("no finding says so")
			}
		}
	}
}

// A gear that is logged but neither engine nor road speed still tells its shifts.
func TestShiftsFromGearAlone(t *testing.T) {
	d := climb(lightManual, 50, 2500, 4)
	f := d.record(recorder{rate: 1, gearVia: 0.5, drop: []string{"engine_speed_rpm", "pedal_pct", "wheel_power_kw", "torque_nm", "converter_locked_frac"}})
	segments, _ := segment.Find(f, segment.Context{Gear: nan})
	got := kinds(segments, "shift")
	if len(got) != 3 {
		t.Fatalf("%d shifts, want 3", len(got))
	}
	for i, y := range d.of("shift") {
		near(t, "moment", got[i].T0S, y.t0, 1.5)
		near(t, "engine speed", got[i].Shift.EngineSpeedRPM, nan, 0)
		near(t, "to", got[i].Shift.ToGear, float64(y.to), 0)
	}
}

// A gear that goes to and fro while the speed ratio stays is no shift; one that stands while the engine shifts is a selector.
func TestGearContradicted(t *testing.T) {
	d := sweeps(lightManual, 4, 1, 1500, 3800)
	f := d.record(recorder{rate: 10, gearVia: 0.5})
	for i, at := range f.T {
		if at > 6 && at < 7.5 {
			f.Column("gear")[i] = 5
		}
	}
	segments, findings := segment.Find(f, lightManual.context("sweep"))
	if n := len(kinds(segments, "shift")); n > 0 || !has(findings, "gear_change_without_ratio_change") {
		t.Errorf("%d shifts, want none: %v", n, findings)
	}
	d = climb(lightAuto, 100, 3700, 5)
	f = d.record(recorder{rate: 10, gearVia: 0.5})
	for i := range f.T {
		f.Column("gear")[i] = 4
	}
	segments, findings = segment.Find(f, lightAuto.context("road"))
	if n := len(kinds(segments, "shift")); n != 4 || !has(findings, "gear_contradicted") {
		t.Errorf("%d shifts, want 4: %v", n, findings)
	}
}

// Ratios of another vehicle are not used to number gears, and the shifts are found all the same.
func TestForeignRatios(t *testing.T) {
	d := climb(lightManual, 100, 3700, 5)
	vehicle := lightManual.vehicle()
	vehicle.FinalDrive *= 2.2
	f := d.record(recorder{rate: 10, gearVia: 0.5, drop: []string{"gear"}})
	segments, findings := segment.Find(f, segment.Context{Vehicle: vehicle, Gear: nan})
	shifts := kinds(segments, "shift")
	if len(shifts) != 4 || !has(findings, "ratios_do_not_fit") {
		t.Errorf("%d shifts, want 4: %v", len(shifts), findings)
	}
	for _, s := range shifts {
		near(t, "gear", s.Shift.FromGear, nan, 0)
	}
}
