package segment_test

import (
	"math"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"
)

// quick is a car with a nine-speed automatic at full throttle, 25 Hz: it shifts every second, its converter open until lock.
// The gear channel shows each gear as the shift begins. Power falls to cut of itself for the 0.2 s before a shift.
func quick(lock, cut float64) (*schema.Frame, []float64) {
	ratios, at := []float64{5.5, 3.36, 2.2, 1.72, 1.31}, []float64{3.0, 3.95, 5.0, 6.0}
	const start, accel, perKMH, stall, shift = 2.0, 18.0, 29.5, 1800.0, 0.35
	var t []float64
	for i := range 25 * 11 {
		t = append(t, float64(i)/25)
	}
	f := schema.NewFrame(t)
	add := func(name string) []float64 {
		f.Set(name, make([]float64, len(t)))
		return f.Column(name)
	}
	rpm, kmh, gear, pedal, locked, kw := add("engine_speed_rpm"), add("vehicle_speed_kmh"), add("gear"), add("pedal_pct"), add("converter_locked_frac"), add("wheel_power_kw")
	speed := func(g int, v, t float64) float64 {
		c := perKMH * ratios[g] * v
		if t >= lock {
			return max(c, 800)
		}
		return max(math.Pow(math.Pow(c, 4)+math.Pow(stall, 4), 0.25), 1.02*c)
	}
	peaks := make([]float64, len(at))
	for i, now := range t {
		kmh[i], gear[i], rpm[i] = 0, 1, 800
		locked[i] = 0
		if now >= lock {
			locked[i] = 1
		}
		if now < start {
			continue
		}
		pedal[i], kw[i] = 100, 120
		kmh[i] = accel * (now - start)
		rpm[i] = speed(0, kmh[i], now)
		for k, t0 := range at {
			if now > t0-0.2 && now < t0+shift {
				kw[i] = 120 * cut
			}
			if now < t0 {
				continue
			}
			gear[i] = float64(k + 2)
			u := min((now-t0)/shift, 1)
			high := speed(k, accel*(t0-start), t0)
			rpm[i] = high + u*u*(3-2*u)*(speed(k+1, kmh[i], now)-high)
		}
		for k, t0 := range at {
			if now > t0-0.5 && now < t0+0.2 {
				peaks[k] = max(peaks[k], rpm[i])
			}
		}
	}
	return f, peaks
}

// The first shift hides in the converter's slip: the change of the gear must not take the next shift's place.
func TestQuickShifts(t *testing.T) {
	vehicle := &schema.Vehicle{RatedSpeedRPM: 4200, GearRatios: []float64{5.5, 3.36, 2.2, 1.72, 1.31}, FinalDrive: 3.56, RollingRadiusM: 0.32}
	for _, lock := range []float64{3.5, 4.4, 5.5} {
		f, peaks := quick(lock, 1)
		for _, v := range []*schema.Vehicle{vehicle, {RatedSpeedRPM: 4200}, nil} {
			segments, _ := segment.Find(f, segment.Context{Vehicle: v, Test: "road", Gear: nan})
			got := kinds(segments, "shift")
			if len(got) != len(peaks) {
				t.Errorf("lock at %v s, vehicle %v: %d shifts, want %d", lock, v, len(got), len(peaks))
				continue
			}
			for i, g := range got {
				if g.Shift.FromGear != float64(i+1) || g.Shift.ToGear != float64(i+2) {
					t.Errorf("lock at %v s: shift %d is %v to %v", lock, i, g.Shift.FromGear, g.Shift.ToGear)
				}
				near(t, "shift speed", g.Shift.EngineSpeedRPM, peaks[i], 0.01*peaks[i])
			}
		}
	}
}

// A gearbox that takes the torque off before it shifts ends the pull there: its peak is what the engine made before.
func TestTorqueCutBeforeShift(t *testing.T) {
	f, _ := quick(2, 0.1)
	segments, _ := segment.Find(f, segment.Context{Vehicle: &schema.Vehicle{RatedSpeedRPM: 4200}, Test: "road", Gear: nan})
	pulls := kinds(segments, "pull")
	if len(pulls) == 0 {
		t.Fatal("no pull")
	}
	for _, p := range pulls {
		near(t, "peak power", p.Pull.PeakPowerKW, 120, 0.5)
		for i := p.Row0; i <= p.Row1; i++ {
			if kw := f.Column("wheel_power_kw")[i]; kw < 100 && f.T[i] > 3 {
				t.Errorf("the pull from %.2f to %.2f s holds the row at %.2f s, %.0f kW", p.T0S, p.T1S, f.T[i], kw)
			}
		}
	}
}
