package segment_test

import (
	"fmt"
	"math"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"
)

// table is a log of a dyno that dictates the engine speed: rpm against time in straight lines, road speed with it, full pedal
// while on.
func table(rate float64, at [][3]float64) *schema.Frame {
	var t, n, v, p, kw []float64
	for i := 0; float64(i)/rate <= at[len(at)-1][0]; i++ {
		now := float64(i) / rate
		k := 1
		for at[k][0] < now {
			k++
		}
		u := (now - at[k-1][0]) / (at[k][0] - at[k-1][0])
		rpm := at[k-1][1] + u*(at[k][1]-at[k-1][1])
		t, n, v, p, kw = append(t, now), append(n, rpm), append(v, rpm/30), append(p, at[k][2]), append(kw, 100*math.Exp(-(rpm-2500)*(rpm-2500)/1500/1500))
	}
	f := schema.NewFrame(t)
	f.Set("engine_speed_rpm", n)
	f.Set("roller_speed_kmh", v)
	f.Set("pedal_pct", p)
	f.Set("wheel_power_kw", kw)
	return f
}

func TestBrakeDyno(t *testing.T) {
	vehicle := &schema.Vehicle{RatedSpeedRPM: 3500}
	up := [][3]float64{{0, 1200, 20}, {5, 1200, 20}, {12, 1200, 100}, {72, 3700, 100}, {75, 1200, 0}, {80, 1200, 0}}
	down := [][3]float64{{0, 1200, 20}, {8, 3700, 60}, {12, 3700, 100}, {62, 1200, 100}, {66, 1200, 0}, {70, 1200, 0}}
	steps := [][3]float64{{0, 1200, 20}, {3, 1200, 20}}
	for k := range 6 {
		rpm, t0 := 1200+400*float64(k), 3+8*float64(k)
		steps = append(steps, [3]float64{t0 + 2, rpm, 100}, [3]float64{t0 + 8, rpm, 100})
	}
	steps = append(steps, [3]float64{60, 1200, 0})
	for _, c := range []struct {
		name   string
		at     [][3]float64
		test   string
		pulls  int
		from   float64
		steady int
	}{{"up", up, "sweep", 1, 1200, 2}, {"down", down, "sweep", 1, 3700, 1}, {"down on the road", down, "road", 0, 0, 2},
		{"steps", steps, "steps", 0, 0, 6}, {"steps by another name", steps, "sweep", 0, 0, 6}} {
		for _, rate := range rates {
			t.Run(fmt.Sprintf("%s/%g", c.name, rate), func(t *testing.T) {
				segments, _ := segment.Find(table(rate, c.at), segment.Context{Vehicle: vehicle, Test: c.test, DynoKind: "brake", Gear: 4})
				pulls := kinds(segments, "pull")
				if len(pulls) != c.pulls {
					t.Fatalf("%d pulls, want %d: %+v", len(pulls), c.pulls, segments)
				}
				if n := len(kinds(segments, "steady")); n < c.steady {
					t.Errorf("%d steady, want %d at least", n, c.steady)
				}
				if n := len(kinds(segments, "shift")); n > 0 {
					t.Errorf("%d shifts", n)
				}
				for _, p := range pulls {
					near(t, "from", p.Pull.RPMFrom, c.from, 40)
					near(t, "gear of the sheet", p.Pull.Gear, 4, 0)
					near(t, "peak", p.Pull.PeakPowerKW, 100, 0.5)
					if early := 12 - p.T0S; math.Abs(early) > 3.5 {
						t.Errorf("starts at %.2f", p.T0S)
					}
				}
			})
		}
	}
}
