package segment_test

import (
	"math"
	"strings"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"
)

// sweeps drives full-load pulls in one gear from low to high engine speed, with a lift and a roll down between them.
func sweeps(c car, gear, pulls int, low, high float64) *drive {
	d := newDrive(c)
	d.gear = gear
	d.v = low / d.c.geared(gear, 1)
	d.locked = true
	d.follow()
	d.cruise(4, 15)
	for range pulls {
		d.accelerate(100, high)
		d.coast(low, 4)
		d.cruise(2, 15)
	}
	return d
}

func (c car) context(test string) segment.Context {
	return segment.Context{Vehicle: c.vehicle(), Test: test, Gear: nan}
}

func TestSweepsAtEveryRate(t *testing.T) {
	for _, c := range cars {
		gear, low, high := 4, 0.4*c.rated, 1.02*c.rated
		d := sweeps(c, gear, 3, low, high)
		want := d.of("pull")
		truePeak := 0.0
		for _, kw := range d.power {
			truePeak = math.Max(truePeak, kw)
		}
		for name, r := range recorders() {
			t.Run(c.name+"/"+name, func(t *testing.T) {
				segments, findings := segment.Find(d.record(r), c.context("sweep"))
				pulls := kinds(segments, "pull")
				if len(pulls) != len(want) {
					t.Fatalf("%d pulls, want %d: %+v", len(pulls), len(want), findings)
				}
				slack := 2/r.rate + 0.3
				for i, p := range pulls {
					row := 2 / r.rate * (high - low) / (want[i].t1 - want[i].t0) // What two rows may hide.
					near(t, "start", p.T0S, want[i].t0, slack+0.3)
					if p.T1S > want[i].t1+slack {
						t.Errorf("end %.2f, the foot lifts at %.2f", p.T1S, want[i].t1)
					}
					near(t, "rpm from", p.Pull.RPMFrom, low, (0.03+r.noise)*low+row)
					near(t, "rpm to", p.Pull.RPMTo, high, (0.015+r.noise)*high+row/2)
					near(t, "peak power", p.Pull.PeakPowerKW, truePeak, (0.006+0.7*r.noise)*truePeak+row/2/high*0.2*truePeak)
					near(t, "gear", p.Pull.Gear, float64(gear), 0)
					near(t, "locked", p.Pull.Locked, 1, 0)
					near(t, "coolant", p.Pull.CoolantC, 90, 1e-9)
					if p.Pull.Flagged != "" {
						t.Errorf("flagged %q", p.Pull.Flagged)
					}
				}
				near(t, "since last", pulls[1].Pull.SinceLastS, pulls[1].T0S-pulls[0].T1S, 1e-9)
				near(t, "since last of the first", pulls[0].Pull.SinceLastS, nan, 0)
				if n := len(kinds(segments, "shift")) + len(kinds(segments, "lockup")); n > 0 {
					t.Errorf("%d shifts and lock-ups in one gear", n)
				}
			})
		}
	}
}

// A run through the gears gives a pull in each gear that spans enough, each ending at its shift; the lock-up cuts none.
func TestPullsBetweenShifts(t *testing.T) {
	for _, c := range cars {
		d := climb(c, 100, 0.95*c.rated, 5)
		need, want := math.Min(600, 0.25*c.rated), 0
		first, last := math.Inf(1), 0.0
		for _, y := range d.of("pull") {
			if y.from == 5 { // Before and after the lock-up.
				first, last = math.Min(first, y.start), y.start+y.rpm
			} else if y.rpm >= need {
				want++
			}
		}
		if last-first >= need {
			want++
		}
		for name, r := range recorders() {
			t.Run(c.name+"/"+name, func(t *testing.T) {
				segments, _ := segment.Find(d.record(r), c.context("road"))
				pulls, shifts := kinds(segments, "pull"), kinds(segments, "shift")
				if len(pulls) != want {
					for _, p := range pulls {
						t.Logf("%.2f-%.2f %+v", p.T0S, p.T1S, *p.Pull)
					}
					t.Errorf("%d pulls, want %d", len(pulls), want)
				}
				for _, p := range pulls {
					if p.Pull.Flagged != "" {
						t.Errorf("the pull %.2f-%.2f is flagged %q", p.T0S, p.T1S, p.Pull.Flagged)
					}
					for _, s := range shifts {
						if p.T0S < s.T0S && p.T1S > s.T0S+1e-9 {
							t.Errorf("the pull %.2f-%.2f runs over the shift at %.2f", p.T0S, p.T1S, s.T0S)
						}
					}
				}
			})
		}
	}
}

func TestLightPedalIsNoPull(t *testing.T) {
	for _, c := range []car{lightAuto, lightManual, heavyManual} {
		d := climb(c, 62, 0.6*c.rated, 4)
		d.accelerate(72, 0.7*c.rated)
		for name, r := range recorders() {
			segments, _ := segment.Find(d.record(r), c.context("road"))
			if n := len(kinds(segments, "pull")); n > 0 {
				t.Errorf("%s %s: %d pulls", c.name, name, n)
			}
		}
	}
}

// A pedal with an end stop at 80 % is full there, if load agrees; without load a finding asks to be believed.
func TestScaledPedal(t *testing.T) {
	d := sweeps(lightManual, 4, 2, 1500, 4000)
	for _, load := range []float64{nan, 98, 60} {
		f := d.record(recorder{rate: 10, gearVia: 0.5})
		pedal, loads := f.Column("pedal_pct"), schema.Missing(f.Len())
		for i := range pedal {
			loads[i] = load * pedal[i] / 100
			pedal[i] *= 0.8
		}
		f.Set("load_pct", loads)
		segments, findings := segment.Find(f, lightManual.context("sweep"))
		want := map[bool]int{true: 0, false: 2}[load == 60]
		if n := len(kinds(segments, "pull")); n != want || has(findings, "pedal_scaled") != (want > 0) {
			t.Errorf("load %v: %d pulls, want %d: %v", load, n, want, findings)
		}
	}
}

func has(findings []schema.Finding, code string) bool {
	for _, x := range findings {
		if x.Code == code {
			return true
		}
	}
	return false
}

func TestPullsByLoadOrByNothing(t *testing.T) {
	for _, c := range []car{lightManual, heavyAuto} {
		d := sweeps(c, 4, 3, 0.4*c.rated, c.rated)
		for _, rate := range rates {
			f := d.record(recorder{rate: rate, noise: 0.01, gearVia: 0.5})
			load := make([]float64, f.Len())
			for i, p := range f.Column("pedal_pct") {
				load[i] = 15 + 0.8*p
			}
			f.Drop("pedal_pct")
			segments, findings := segment.Find(f, c.context("sweep"))
			if n := len(kinds(segments, "pull")); n != 3 || !has(findings, "pull_without_load_evidence") {
				t.Errorf("%s %g Hz by nothing: %d pulls, %v", c.name, rate, n, findings)
			}
			f.Set("load_pct", load)
			segments, findings = segment.Find(f, c.context("sweep"))
			if n := len(kinds(segments, "pull")); n != 3 || has(findings, "pull_without_load_evidence") {
				t.Errorf("%s %g Hz by load: %d pulls, %v", c.name, rate, n, findings)
			}
		}
	}
}

// On the road without pedal, load and rated speed no acceleration passes for a pull.
func TestBareRoadHasNoPull(t *testing.T) {
	f := climb(lightManual, 100, 3800, 5).record(recorder{rate: 10, gearVia: 0.5, drop: []string{"pedal_pct", "torque_nm"}})
	segments, _ := segment.Find(f, segment.Context{Test: "road", Gear: nan})
	if n := len(kinds(segments, "pull")); n > 0 {
		t.Errorf("%d pulls", n)
	}
}

// Each rule by which a pull is doubted, and that it stays.
func TestFlags(t *testing.T) {
	d := sweeps(lightManual, 4, 5, 1500, 4000)
	pulls := d.of("pull")
	base := func() *schema.Frame { return d.record(recorder{rate: 20, gearVia: 0.5}) }
	in := func(at float64, k int) bool { return at > pulls[k].t0 && at < pulls[k].t1 }
	for _, c := range []struct {
		want   string
		change func(f *schema.Frame)
	}{
		{"", func(*schema.Frame) {}},
		{"cold", func(f *schema.Frame) {
			for i := range f.T {
				if in(f.T[i], 2) {
					f.Column("coolant_c")[i] = 55
				}
			}
		}},
		{"outlier", func(f *schema.Frame) {
			for i := range f.T {
				if in(f.T[i], 2) {
					f.Column("wheel_power_kw")[i] *= 0.9
				}
			}
		}},
		{"lifted", func(f *schema.Frame) {
			for i := range f.T {
				if mid := (pulls[2].t0 + pulls[2].t1) / 2; math.Abs(f.T[i]-mid) < 0.3 {
					f.Column("pedal_pct")[i] = 30
				}
			}
		}},
		{"wheel slip", func(f *schema.Frame) {
			slip := make([]float64, f.Len())
			for i := range slip {
				if slip[i] = 0.02; in(f.T[i], 2) && in(f.T[i]-1, 2) && in(f.T[i]+1, 2) {
					slip[i] = 0.12
				}
			}
			f.Set("tyre_slip_frac", slip)
		}},
	} {
		t.Run(c.want, func(t *testing.T) {
			f := base()
			c.change(f)
			segments, findings := segment.Find(f, lightManual.context("sweep"))
			got := kinds(segments, "pull")
			if len(got) != 5 || has(findings, "pull_flagged") != (c.want != "") {
				t.Fatalf("%d pulls, want 5: %v", len(got), findings)
			}
			for i, p := range got {
				if (p.Pull.Flagged != "") != (i == 2 && c.want != "") || !strings.Contains(p.Pull.Flagged, c.want) && i == 2 {
					t.Errorf("pull %d is flagged %q", i, p.Pull.Flagged)
				}
			}
		})
	}
}

// A free rev at full pedal is no pull, nor is a diesel's throttle plate a pedal.
func TestFreeRev(t *testing.T) {
	at := [][3]float64{{0, 800, 0}, {5, 800, 0}, {6.5, 4000, 100}, {9, 800, 0}, {20, 800, 0}}
	f := table(20, at)
	for i := range f.T {
		f.Column("roller_speed_kmh")[i] = 0.01
	}
	segments, _ := segment.Find(f, segment.Context{Test: "sweep", Gear: nan})
	if n := len(kinds(segments, "pull")); n > 0 {
		t.Errorf("%d pulls while the vehicle stands", n)
	}
	d := climb(lightAuto, 50, 2500, 4)
	f = d.record(recorder{rate: 10, gearVia: 0.5})
	for i := range f.T {
		f.Column("pedal_pct")[i] = 95
	}
	segments, findings := segment.Find(f, lightAuto.context("road"))
	if n := len(kinds(segments, "pull")); n > 0 || !has(findings, "pedal_not_credible") || len(kinds(segments, "idle")) == 0 {
		t.Errorf("%d pulls by a throttle plate: %v", n, findings)
	}
}

// A kickdown: the pedal goes down, two gears too, and the pull begins behind the shift.
func TestKickdown(t *testing.T) {
	c := lightAuto
	for name, r := range recorders() {
		d := newDrive(c)
		d.gear, d.v, d.slip = 5, 1500/c.geared(5, 1), 0.03
		d.cruise(6, 20)
		d.pedal = 100
		d.cruise(0.3, 100)
		d.shift(3)
		d.accelerate(100, 3800)
		d.shift(4)
		d.accelerate(100, 3950)
		d.coast(2000, 3)
		f := d.record(r)
		checkShifts(t, d, r, f, c.context("road"), true)
		segments, _ := segment.Find(f, c.context("road"))
		pulls := kinds(segments, "pull")
		if len(pulls) != 2 || pulls[0].Pull.Gear != 3 || pulls[1].Pull.Gear != 4 {
			t.Errorf("%s: pulls %+v", name, pulls)
		}
	}
}

// Logs at 1 and 2 Hz still give their pulls.
func TestSlowLogs(t *testing.T) {
	for _, c := range []car{lightManual, heavyAuto} {
		d := sweeps(c, 5, 3, 0.4*c.rated, 0.98*c.rated)
		for _, rate := range []float64{1, 2} {
			segments, _ := segment.Find(d.record(recorder{rate: rate, noise: 0.005, gearVia: 0.5}), c.context("sweep"))
			if n := len(kinds(segments, "pull")); n != 3 {
				t.Errorf("%s %g Hz: %d pulls, want 3", c.name, rate, n)
			}
		}
	}
}
