package derive

import (
	"math"
	"slices"
	"testing"

	"dynolake/schema"
)

// What is left out of a brake dyno's power in a sweep is a doubt there alone: an inertia dyno's force and a brake's steps are notes.
func TestBrakeWithoutItsMassIsDoubtedInASweep(t *testing.T) {
	for _, c := range []struct {
		kind, test string
		want       schema.Severity
	}{{"brake", "sweep", schema.Doubt}, {"brake", "steps", schema.Note}, {"inertia", "sweep", schema.Note}, {"", "sweep", schema.Note}} {
		ctx := unstated()
		ctx.Run.Test, ctx.Dyno = c.test, &schema.Dyno{Kind: c.kind}
		got := Columns(frame(map[string][]float64{"roller_force_n": constant(5, 3000), "roller_speed_kmh": constant(5, 100)}), ctx)
		i := slices.IndexFunc(got, func(f schema.Finding) bool { return f.Code == "power_from_force" })
		if i < 0 || got[i].Severity != c.want {
			t.Errorf("%s in %s: findings %+v, want a %s", c.kind, c.test, got, c.want)
		}
	}
}

// A sheet's first gear is a gear: 1600 N·m at the hubs through 4 x 4 at 2000 1/min.
func TestSheetsFirstGear(t *testing.T) {
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{GearRatios: []float64{4, 2, 1}, FinalDrive: 4, RollingRadiusM: 0.3}
	for gear, want := range map[float64]float64{1: 1600 * 2000 / 16. / TorqueSpeed, 0: nan, nan: nan, 4: nan, 1.5: nan} {
		ctx.SheetGear = gear
		f := frame(map[string][]float64{"wheel_torque_nm": constant(3, 1600), "engine_speed_rpm": constant(3, 2000)})
		Columns(f, ctx)
		if math.IsNaN(want) {
			if f.Has("wheel_power_kw") {
				t.Errorf("gear %v: power %v, want none", gear, f.Column("wheel_power_kw"))
			}
			continue
		}
		near(t, "power", f.Column("wheel_power_kw")[1], want, 1e-9)
	}
}

// A straight line has no clock of its own, and rounding does not make it one: slopes of 30 km/h/s apart by a millionth.
func TestOwnPeriodIgnoresRounding(t *testing.T) {
	var clock, line, coarse []float64
	for i := range 200 {
		x := 0.05 * float64(i)
		clock = append(clock, x)
		line = append(line, 30*x+5e-7*float64(i%2))
		coarse = append(coarse, 30*0.5*math.Floor(x/0.5)+(30+3*math.Mod(math.Floor(x/0.5), 2))*math.Mod(x, 0.5))
	}
	near(t, "of a line", ownPeriod(clock, line), 0, 0)
	if p := ownPeriod(clock, coarse); !(p > 0.2 && p < 0.6) {
		t.Errorf("of a speed of 2 Hz it is %v s", p)
	}
}

// The equation of the vapour's pressure holds at its ends: 0 °C and the critical temperature.
func TestVapourPressureAtItsEnds(t *testing.T) {
	near(t, "0 °C", VapourPressure(0), 0.61121, 6e-6)
	near(t, "critical point", VapourPressure(647.096-273.15), 22064, 0.5)
}

// Absolute zero itself is no temperature, and slip is told from 5 km/h on.
func TestBoundsThemselves(t *testing.T) {
	if v := Celsius(-273.15); !math.IsNaN(float64(v)) {
		t.Errorf("absolute zero is %v K, want none", v)
	}
	near(t, "slip at 5 km/h", TyreSlip(4.9, 5), 0.02, 1e-12)
	if v := TyreSlip(4.9, 4.999); !math.IsNaN(v) {
		t.Errorf("slip below 5 km/h is %v, want none", v)
	}
}

// A coarse speed, or one of a slow clock, widens the acceleration's window to 1 s on either side and no further.
func TestAccelerationWindow(t *testing.T) {
	var clock, fine, coarse, slow []float64
	for i := range 400 {
		x := 0.05 * float64(i)
		clock = append(clock, x)
		fine = append(fine, 50+8*x+0.3*math.Sin(37*x))
		coarse = append(coarse, math.Round(50+8*x))
		slow = append(slow, 50+8*x+math.Abs(math.Mod(x, 4)-2)) // Bends every 2 s.
	}
	near(t, "fine", window(clock, fine), 0.25, 1e-12)
	near(t, "whole km/h", window(clock, coarse), 1, 1e-12)
	near(t, "slow clock", window(clock, slow), 1, 1e-12)
	near(t, "coarse rows", window([]float64{0, 1, 2, 3, 4}, []float64{50, 58.1, 66.3, 74.2, 82.4}), 2.2, 1e-12)
}

// Without the final drive the output shaft says nothing of the wheel, and without a mass the road load nothing of power.
func TestPowerNeedsItsVehicle(t *testing.T) {
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{RollingRadiusM: 0.3}
	f := frame(map[string][]float64{"wheel_torque_nm": constant(3, 1600), "output_shaft_rpm": constant(3, 2000), "vehicle_speed_kmh": constant(3, 500*2*math.Pi*0.3*0.06)})
	Columns(f, ctx)
	near(t, "by the rolling radius", f.Column("wheel_power_kw")[1], 83.7758, 5e-5)
	ctx.Run.Test = "road"
	ctx.Vehicle = &schema.Vehicle{RoadLoad: []float64{150, 1, 0.04}}
	f = frame(map[string][]float64{"vehicle_speed_kmh": {50, 51, 52, 53, 54, 55}})
	if got := codes(Columns(f, ctx)); f.Has("wheel_power_kw") || got != nil {
		t.Errorf("without a mass: power %v, findings %v", f.Column("wheel_power_kw"), got)
	}
}
