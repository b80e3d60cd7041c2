package segment_test

import (
	"fmt"
	"math"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"
)

// logged is the highest (or, downwards, lowest) speed logged in the 0.5 s before the true beginning of a shift.
func logged(f *schema.Frame, y truth, offset float64) float64 {
	best := nan
	t, n := f.T, f.Column("engine_speed_rpm")
	for i := range t {
		at := t[i] - offset
		up := y.to > y.from
		if at >= y.t0-0.5 && at < y.t0+(y.t1-y.t0)/2 && !math.IsNaN(n[i]) && (math.IsNaN(best) || up == (n[i] > best)) {
			best = n[i]
		}
	}
	return best
}

// checkShifts compares the shifts found with those that truly happened.
func checkShifts(t *testing.T, d *drive, r recorder, f *schema.Frame, ctx segment.Context, gears bool) {
	t.Helper()
	segments, findings := segment.Find(f, ctx)
	got, want := kinds(segments, "shift"), d.of("shift")
	if len(got) != len(want) {
		t.Errorf("%d shifts, want %d", len(got), len(want))
		for _, g := range got {
			t.Logf("got  %.2f-%.2f %+v", g.T0S, g.T1S, *g.Shift)
		}
		for _, y := range want {
			t.Logf("want %.2f-%.2f %+v", y.t0, y.t1, y)
		}
		for _, x := range findings {
			t.Log(x.Code, x.Text)
		}
		return
	}
	for i, y := range want {
		g := got[i]
		rpm := logged(f, y, r.offset)
		if math.Abs(g.Shift.EngineSpeedRPM/rpm-1) > 0.01+r.noise {
			t.Errorf("shift %d at %.2f s (true %.2f): %.1f rpm, logged %.1f, true %.1f", i, g.T0S, y.t0, g.Shift.EngineSpeedRPM, rpm, y.rpm)
		}
		if late := g.T0S - r.offset - y.t0; late < -0.55 || late > 0.5*(y.t1-y.t0)+1/r.rate {
			t.Errorf("shift %d at %.3f s, true %.3f", i, g.T0S-r.offset, y.t0)
		}
		if gears && (g.Shift.FromGear != float64(y.from) || g.Shift.ToGear != float64(y.to)) {
			t.Errorf("shift %d is %v to %v, true %d to %d", i, g.Shift.FromGear, g.Shift.ToGear, y.from, y.to)
		}
	}
}

var rates = []float64{4, 10, 25, 100}

// clean at every rate, and what recorders do to a log.
func recorders() map[string]recorder {
	m := map[string]recorder{}
	for _, rate := range rates {
		m[fmt.Sprintf("clean %g Hz", rate)] = recorder{rate: rate, gearVia: 0.5}
		for seed := range uint64(3) {
			m[fmt.Sprintf("noisy %g Hz %d", rate, seed)] = recorder{rate: rate, noise: 0.01 + 0.005*float64(seed), rpmStep: 0.25, speedStep: 0.1, pedalStep: 0.4, gearVia: 0.5, seed: seed}
		}
		m[fmt.Sprintf("quantised %g Hz", rate)] = recorder{rate: rate, rpmStep: 50, speedStep: 1, pedalStep: 0.4, gearVia: 0.5}
	}
	m["drawn from 4 Hz onto 50 Hz"] = recorder{rate: 50, slow: 4.1667, gearVia: 0.5}
	return m
}

func TestShiftsWithGearLogged(t *testing.T) {
	for _, c := range cars {
		d := climb(c, 100, 0.92*c.rated, 5)
		for name, r := range recorders() {
			for _, lag := range []float64{-0.8, 0, 0.9} {
				for _, via := range []float64{0.5, 0, nan, 99} {
					r.gearLag, r.gearVia = lag, via
					t.Run(fmt.Sprintf("%s/%s/lag %g via %g", c.name, name, lag, via), func(t *testing.T) {
						checkShifts(t, d, r, d.record(r), segment.Context{Vehicle: c.vehicle(), Gear: nan}, true)
					})
				}
			}
		}
	}
}

func TestShiftsWithoutGear(t *testing.T) {
	for _, c := range cars {
		for _, pedal := range []float64{60, 100} {
			d := climb(c, pedal, map[bool]float64{true: 0.92, false: 0.65}[pedal == 100]*c.rated, 5)
			for name, r := range recorders() {
				r.drop = []string{"gear"}
				t.Run(fmt.Sprintf("%s/%g/%s", c.name, pedal, name), func(t *testing.T) {
					f := d.record(r)
					checkShifts(t, d, r, f, segment.Context{Vehicle: c.vehicle(), Gear: nan}, true)
					f.Drop("converter_locked_frac")
					checkShifts(t, d, r, f, segment.Context{Gear: nan}, false)
				})
			}
		}
	}
}
