package segment_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var sameRun = cmp.Options{cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-6), cmpopts.EquateEmpty()}

// Moving the clock moves the segments and changes nothing else.
func TestTimeOffset(t *testing.T) {
	d, _ := road(lightAuto)
	for _, rate := range rates {
		r := recorder{rate: rate, noise: 0.01, rpmStep: 1, gearVia: 0.5, seed: 3}
		want, _ := segment.Find(d.record(r), lightAuto.context("road"))
		for _, offset := range []float64{-512, 4096} {
			r.offset = offset
			got, _ := segment.Find(d.record(r), lightAuto.context("road"))
			for i := range got {
				got[i].T0S, got[i].T1S = got[i].T0S-offset, got[i].T1S-offset
			}
			if diff := cmp.Diff(want, got, sameRun); diff != "" {
				t.Errorf("%g Hz moved by %g s: %s", rate, offset, diff)
			}
		}
	}
}

// check holds what every set of segments must: order, ids, limits, rows, and that pulls stand alone.
func check(t *testing.T, f *schema.Frame, segments []schema.Segment) {
	t.Helper()
	for i, s := range segments {
		if s.ID != i || i > 0 && s.T0S < segments[i-1].T0S {
			t.Errorf("segment %d is out of order", i)
		}
		if s.Row0 < 0 || s.Row1 < s.Row0 || s.Row1 >= f.Len() || f.T[s.Row0] != s.T0S || f.T[s.Row1] != s.T1S {
			t.Errorf("segment %d has rows %d-%d for %g-%g s", i, s.Row0, s.Row1, s.T0S, s.T1S)
		}
		if (s.Kind == "pull") != (s.Pull != nil) || (s.Kind == "shift") != (s.Shift != nil) {
			t.Errorf("segment %d is a %s with the parts of another kind", i, s.Kind)
		}
		for _, o := range segments[:i] {
			overlap := math.Min(s.T1S, o.T1S) - math.Max(s.T0S, o.T0S)
			if pair := s.Kind == "pull" || o.Kind == "pull"; pair && overlap > 1e-9 && s.Kind != "lockup" && o.Kind != "lockup" && s.Kind != "regen" && o.Kind != "regen" {
				t.Errorf("%s %g-%g over %s %g-%g", s.Kind, s.T0S, s.T1S, o.Kind, o.T0S, o.T1S)
			}
		}
	}
}

// Any column may be missing, in part or whole: nothing breaks, and what does not need it stays.
func TestMissingColumns(t *testing.T) {
	d, _ := road(lightAuto)
	d.accelerate(100, 3900)
	d.shift(2)
	d.accelerate(100, 3900)
	d.coast(1500, 4)
	full := d.record(recorder{rate: 20, gearVia: 0.5})
	for _, name := range full.Names() {
		for _, mode := range []string{"absent", "empty", "half", "zero"} {
			t.Run(name+"/"+mode, func(t *testing.T) {
				f := d.record(recorder{rate: 20, gearVia: 0.5})
				x := f.Column(name)
				for i := range x {
					switch {
					case mode == "empty", mode == "half" && i > len(x)/2:
						x[i] = nan
					case mode == "zero":
						x[i] = 0
					}
				}
				if mode == "absent" {
					f.Drop(name)
				}
				before := append([]float64(nil), x...)
				segments, _ := segment.Find(f, lightAuto.context("road"))
				check(t, f, segments)
				segment.Curves(f, segments)
				if diff := cmp.Diff(before, x, sameRun); diff != "" {
					t.Error("the frame was changed")
				}
				n := len(kinds(segments, "shift"))
				if name == "vehicle_speed_kmh" {
					n = min(n, 6) // The gear chosen at a stand counts where the stand is not known.
				}
				if n != 6 && name != "engine_speed_rpm" {
					t.Errorf("%d shifts, want 6", n)
				}
			})
		}
	}
}

func TestTinyFrames(t *testing.T) {
	for n := range 12 {
		for _, value := range []float64{nan, 0, 900, math.Inf(1)} {
			at := make([]float64, n)
			f := schema.NewFrame(at)
			for _, c := range schema.Columns()[1:] {
				x := make([]float64, n)
				for i := range x {
					at[i], x[i] = float64(i)*0.1, value
				}
				f.Set(c.Name, x)
			}
			segments, _ := segment.Find(f, segment.Context{Gear: nan, Vehicle: &schema.Vehicle{}})
			check(t, f, segments)
			segment.Curves(f, segments)
		}
	}
	if segments, findings := segment.Find(schema.NewFrame(nil), segment.Context{}); len(segments)+len(findings) > 0 {
		t.Error("segments or findings of nothing")
	}
}

// No segment reaches across a hole in the clock, and a hole in the values invents no shift.
func TestGaps(t *testing.T) {
	d := climb(lightManual, 100, 3700, 5)
	for _, rate := range rates {
		for at := 2.0; at < d.now()-4; at += 1.7 {
			r := recorder{rate: rate, gearVia: 0.5, gap: [2]float64{at, at + 2.5}, drop: []string{"gear"}}
			f := d.record(r)
			segments, _ := segment.Find(f, lightManual.context("road"))
			check(t, f, segments)
			for _, s := range kinds(segments, "shift") {
				known := false
				for _, y := range d.of("shift") {
					known = known || math.Abs(s.T0S-y.t0) < 0.6
				}
				if !known {
					t.Errorf("%g Hz, hole at %.1f s: a shift at %.2f s", rate, at, s.T0S)
				}
			}
			cut := without(f, at, at+12)
			segments, _ = segment.Find(cut, lightManual.context("road"))
			check(t, cut, segments)
			for _, s := range segments {
				if s.T0S < at-0.01 && s.T1S > at+12 {
					t.Errorf("%g Hz: %s %.1f-%.1f reaches across the hole at %.1f", rate, s.Kind, s.T0S, s.T1S, at)
				}
			}
		}
	}
}

// without takes rows out of a frame.
func without(f *schema.Frame, from, to float64) *schema.Frame {
	var keep []int
	var at []float64
	for i, t := range f.T {
		if t < from || t > to {
			keep, at = append(keep, i), append(at, t)
		}
	}
	out := schema.NewFrame(at)
	for _, name := range f.Names() {
		x := make([]float64, len(keep))
		for k, i := range keep {
			x[k] = f.Column(name)[i]
		}
		out.Set(name, x)
	}
	return out
}

// Noise alone, over many seeds: a sweep, a roll down and a cruise have no shift.
func TestNoFalseShifts(t *testing.T) {
	for _, c := range cars {
		d := sweeps(c, 4, 1, 0.4*c.rated, c.rated)
		d.cruise(20, 30)
		for seed := range uint64(40) {
			rnd := rand.New(rand.NewPCG(seed, 1))
			r := recorder{rate: rates[seed%4], noise: 0.02 * rnd.Float64(), rpmStep: 50 * rnd.Float64(), speedStep: 1, pedalStep: 0.4, gearVia: 0.5, seed: seed, drop: []string{"gear", "converter_locked_frac"}}
			for _, ctx := range []segment.Context{c.context("sweep"), {Gear: nan}} {
				segments, _ := segment.Find(d.record(r), ctx)
				if n := len(kinds(segments, "shift")); n > 0 || len(kinds(segments, "pull")) != 1 {
					t.Errorf("%s %+v: %d shifts, %d pulls", c.name, r, n, len(kinds(segments, "pull")))
				}
			}
		}
	}
}

// A million rows at 100 Hz, and as many at 1 Hz: eleven days of driving, which take a few times as long.
func BenchmarkFind(b *testing.B) {
	for _, rate := range []float64{100, 1} {
		f := long(1_000_000, rate)
		b.Run(fmt.Sprintf("%g Hz", rate), func(b *testing.B) {
			for b.Loop() {
				segments, _ := segment.Find(f, lightManual.context("road"))
				if len(kinds(segments, "shift")) == 0 {
					b.Fatal("no shifts")
				}
			}
			b.ReportMetric(float64(f.Len())/b.Elapsed().Seconds()*float64(b.N), "rows/s")
		})
	}
}

func BenchmarkCurves(b *testing.B) {
	f := long(1_000_000, 100)
	segments, _ := segment.Find(f, lightManual.context("road"))
	for b.Loop() {
		if len(segment.Curves(f, segments)) == 0 {
			b.Fatal("no curves")
		}
	}
}

// long repeats a drive through the gears until there are n rows.
func long(n int, rate float64) *schema.Frame {
	f := climb(lightManual, 100, 3700, 5).record(recorder{rate: rate, noise: 0.005, gearVia: 0.5})
	at := make([]float64, n)
	for i := range at {
		at[i] = float64(i) / rate
	}
	out := schema.NewFrame(at)
	for _, name := range f.Names() {
		x, from := make([]float64, n), f.Column(name)
		for i := range x {
			x[i] = from[i%len(from)]
		}
		out.Set(name, x)
	}
	return out
}
