package segment_test

import (
	"math"
	"testing"

	"dynolake/derive/segment"
)

// Lost messages and bits: values of 0 and of several times the truth, one row each. Pulls, shifts, their speeds and their peaks are
// those of the log without them, the frame keeps them, and a finding counts them.
func TestSpikes(t *testing.T) {
	c := lightManual
	d := climb(c, 100, 3600, 5)
	for _, rate := range []float64{10, 25, 100} {
		plain := d.record(recorder{rate: rate, gearVia: 0.5, seed: 5})
		want, _ := segment.Find(plain, c.context("road"))
		spiked := d.record(recorder{rate: rate, gearVia: 0.5, seed: 5})
		n := 0
		for k, name := range []string{"engine_speed_rpm", "wheel_power_kw", "vehicle_speed_kmh"} {
			x := spiked.Column(name)
			for i := 20 + 7*k; i+20 < len(x); i += 97 {
				if by := x[i] * []float64{-1, 1.5}[i%2]; math.Abs(by) > 0.6*highestOf(x) {
					x[i] += by
					if k == 0 {
						n++
					}
				}
			}
		}
		got, findings := segment.Find(spiked, c.context("road"))
		for _, kind := range []string{"pull", "shift"} {
			a, b := kinds(want, kind), kinds(got, kind)
			if len(a) != len(b) {
				t.Errorf("%g Hz: %d of kind %s, want %d", rate, len(b), kind, len(a))
				continue
			}
			for i := range a {
				if kind == "pull" {
					near(t, "peak power", b[i].Pull.PeakPowerKW/a[i].Pull.PeakPowerKW, 1, 0.01)
					near(t, "last speed", b[i].Pull.RPMTo/a[i].Pull.RPMTo, 1, 0.01)
					continue
				}
				near(t, "shift speed", b[i].Shift.EngineSpeedRPM/a[i].Shift.EngineSpeedRPM, 1, 0.02)
			}
		}
		told := 0.0
		for _, f := range findings {
			if f.Code == "spikes_left_out" && f.Channel == "engine_speed_rpm" {
				told = f.Value
			}
		}
		near(t, "spikes told", told, float64(n), 0.2*float64(n))
		for _, x := range segment.Curves(spiked, got) {
			if x.Axis == "engine_speed_rpm" && (x.Bin > 1.05*highestOf(plain.Column("engine_speed_rpm")) || x.Mean["wheel_power_kw"] > 1.05*highestOf(plain.Column("wheel_power_kw"))) {
				t.Errorf("%g Hz: bin %g has %.1f kW", rate, x.Bin, x.Mean["wheel_power_kw"])
			}
		}
		if _, findings := segment.Find(plain, c.context("road")); has(findings, "spikes_left_out") {
			t.Errorf("%g Hz: spikes in a log without any: %v", rate, findings)
		}
	}
}

func highestOf(x []float64) float64 {
	top := math.Inf(-1)
	for _, v := range x {
		if v > top {
			top = v
		}
	}
	return top
}

// A value that no pedal can have, drawn out over a few rows by another clock, is not its end stop.
func TestPedalBeyondItsRange(t *testing.T) {
	d := sweeps(lightManual, 4, 2, 1500, 4000)
	f := d.record(recorder{rate: 25, gearVia: 0.5})
	pedal := f.Column("pedal_pct")
	for i := range pedal {
		pedal[i] *= 0.85
	}
	for i := 300; i < 312; i++ {
		pedal[i] = 153
	}
	segments, findings := segment.Find(f, lightManual.context("sweep"))
	if n := len(kinds(segments, "pull")); n != 2 || !has(findings, "spikes_left_out") {
		t.Errorf("%d pulls, want 2: %v", n, findings)
	}
}

// Without pedal and load an acceleration at part power is no pull where the log holds one at full power.
func TestBarePullsByPower(t *testing.T) {
	d := sweeps(lightManual, 4, 1, 1500, 4000)
	d.accelerate(45, 3900)
	d.coast(1500, 4)
	for _, rate := range rates {
		f := d.record(recorder{rate: rate, noise: 0.01, gearVia: 0.5, drop: []string{"pedal_pct"}})
		segments, findings := segment.Find(f, lightManual.context("sweep"))
		got := kinds(segments, "pull")
		if len(got) != 1 || !has(findings, "pull_without_load_evidence") {
			t.Errorf("%g Hz: %d pulls, want 1: %v", rate, len(got), findings)
			continue
		}
		near(t, "peak power", got[0].Pull.PeakPowerKW, d.c.power(4000), 0.04*d.c.power(4000))
	}
}

// Torque is made of power and engine speed: a spike of either is none of its values, though two near each other hide one another there.
func TestSpikesOfWhatTorqueIsMadeOf(t *testing.T) {
	torque := func(n float64) float64 { return 500 - n/20 }
	f, pulls := ramp(10, 4000, map[string]func(float64) float64{"torque_nm": torque, "wheel_power_kw": func(n float64) float64 { return torque(n) * n / 9549.297 }})
	speed, power, made := f.Column("engine_speed_rpm"), f.Column("wheel_power_kw"), f.Column("torque_nm")
	speed[60], made[60] = 2.5*speed[60], made[60]/2.5
	power[62], made[62] = 0, 0
	for bin, c := range byBin(segment.Curves(f, pulls), "engine_speed_rpm") {
		if bin > 1600 && bin < 3950 {
			near(t, "torque", c.Mean["torque_nm"], torque(bin), 2)
		}
	}
}
