package derive

import (
	"math"
	"math/rand/v2"
	"testing"

	"dynolake/schema"
)

var manual = schema.Vehicle{GearRatios: []float64{3.9, 2.1, 1.35, 1.0, 0.78, 0.64}, FinalDrive: 3.7, RollingRadiusM: 0.33}

// 205/55 R16 has a diameter of 25.4 x 16 + 2 x 0.55 x 205 mm, 631.9 mm; at 3000 1/min and 119.110 km/h the overall ratio is 3.000.
func TestEngineRatio(t *testing.T) {
	const diameter = (25.4*16 + 2*0.55*205) / 1000
	near(t, "diameter", diameter, 0.6319, 1e-9)
	near(t, "overall ratio", EngineRatio(3000, diameter/2, KMH(119.110)), 3.000, 5e-5)
	near(t, "round trip", DrivelineSpeed(3000, diameter/2, EngineRatio(3000, diameter/2, KMH(119.110))), 119.110, 1e-9)
	for _, v := range []MPerS{0, -1, MPerS(nan)} {
		if r := EngineRatio(3000, 0.3, v); !math.IsNaN(r) {
			t.Errorf("EngineRatio at %v m/s = %v", v, r)
		}
	}
}

// drive is an acceleration through the gears with shifts of 0.4 s, in which the clutch is open. It gives clock, engine speed, road
// speed and the gear engaged (NaN in a shift).
func drive(v schema.Vehicle, hz, scale float64) (clock, rpm, kmh, gear []float64) {
	speed, g, shifting := 0.0, 1, 0.0
	for x := 0.0; x < 60 && g <= len(v.GearRatios); x += 1 / hz {
		speed += 2.5 / hz * 18 / (10 + 2*float64(g))
		overall := v.GearRatios[min(g, len(v.GearRatios))-1] * v.FinalDrive
		n := speed / (2 * math.Pi * v.RollingRadiusM * 0.06) * overall
		engaged := float64(g)
		if n > 3800 && shifting == 0 && g < len(v.GearRatios) {
			shifting = x
		}
		if shifting > 0 {
			n, engaged = n*(1-0.6*(x-shifting)/0.4), nan
			if x-shifting > 0.4 {
				g, shifting = g+1, 0
			}
		}
		clock, rpm, kmh, gear = append(clock, x), append(rpm, max(n, 800)), append(kmh, speed*scale), append(gear, engaged)
		if n < 800 {
			gear[len(gear)-1] = nan // The clutch slips.
		}
	}
	return clock, rpm, kmh, gear
}

func TestGearEstimate(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	automatic := schema.Vehicle{GearRatios: []float64{4.7, 3.13, 2.1, 1.67, 1.29, 1.0, 0.84, 0.67}, FinalDrive: 3.3, RollingRadiusM: 0.36}
	for _, c := range []struct {
		name             string
		vehicle          schema.Vehicle
		hz, scale        float64
		noise, step, lag float64 // Of the speeds as a share, km/h, s.
		right            float64
	}{
		{"clean", manual, 20, 1, 0, 0, 0, 0.99},
		{"fast and noisy", manual, 100, 1, 0.02, 0, 0, 0.98},
		{"whole km/h, late", manual, 10, 1, 0.003, 1, 0.2, 0.95},
		{"4 Hz", manual, 4, 1, 0.003, 1, 0, 0.93},
		{"tyres 5 % larger", manual, 20, 0.95, 0.003, 0, 0, 0.97},
		{"eight gears", automatic, 20, 1.02, 0.01, 1, 0.1, 0.95},
	} {
		clock, rpm, kmh, gear := drive(c.vehicle, c.hz, c.scale)
		late := int(c.lag * c.hz)
		logged := make([]float64, len(kmh))
		for i := range kmh {
			logged[i] = kmh[max(0, i-late)] * (1 + c.noise*r.NormFloat64())
			if c.step > 0 {
				logged[i] = math.Floor(logged[i]/c.step) * c.step
			}
			rpm[i] *= 1 + c.noise*r.NormFloat64()
		}
		ctx := unstated()
		ctx.Vehicle = &c.vehicle
		f, _ := made(clock, map[string][]float64{"engine_speed_rpm": rpm, "vehicle_speed_kmh": logged}, ctx)
		got := f.Column("gear_est")
		if got == nil {
			t.Errorf("%s: no estimate", c.name)
			continue
		}
		right, wrong, n := 0, 0, 0
		for i := range gear {
			if math.IsNaN(gear[i]) || logged[i] < 2*minSpeed {
				continue
			}
			n++
			switch {
			case got[i] == gear[i]:
				right++
			case !math.IsNaN(got[i]):
				wrong++
			}
		}
		if float64(right) < c.right*float64(n) || float64(wrong) > 0.02*float64(n) {
			t.Errorf("%s: of %d rows %d right (want %.0f %%) and %d wrong", c.name, n, right, 100*c.right, wrong)
		}
	}
}

func TestGearEstimateNeedsTheRatios(t *testing.T) {
	clock, rpm, kmh, _ := drive(manual, 20, 1)
	for name, v := range map[string]*schema.Vehicle{"no vehicle": nil, "no ratios": {FinalDrive: 3.7, RollingRadiusM: 0.33}, "no radius": {GearRatios: manual.GearRatios, FinalDrive: 3.7}} {
		ctx := unstated()
		ctx.Vehicle = v
		if f, _ := made(clock, map[string][]float64{"engine_speed_rpm": rpm, "vehicle_speed_kmh": kmh}, ctx); f.Has("gear_est") {
			t.Errorf("%s: gears are found", name)
		}
	}
}

func TestGearEstimateFromTheOutputShaft(t *testing.T) {
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{GearRatios: []float64{2.5, 1.5, 1}}
	f, _ := made([]float64{0, 0.2, 0.4, 0.6, 0.8}, map[string][]float64{"engine_speed_rpm": constant(5, 3000), "output_shaft_rpm": constant(5, 2000)}, ctx)
	for i, g := range f.Column("gear_est") {
		if g != 2 {
			t.Errorf("row %d: gear %v, want 2", i, g)
		}
	}
}

// A converter that slips by half stands between no two gears, and nothing is said of it.
func TestGearEstimateLeavesSlipOut(t *testing.T) {
	ctx := unstated()
	ctx.Vehicle = &manual
	n := 40
	clock, rpm, kmh := make([]float64, n), constant(n, 2500), make([]float64, n)
	for i := range clock {
		clock[i] = 0.1 * float64(i)
		kmh[i] = DrivelineSpeed(2500, manual.RollingRadiusM, 2.1*manual.FinalDrive) / 1.4
	}
	if f, _ := made(clock, map[string][]float64{"engine_speed_rpm": rpm, "vehicle_speed_kmh": kmh}, ctx); f.Has("gear_est") {
		t.Errorf("gear %v", f.Column("gear_est"))
	}
}

func TestTyreSlip(t *testing.T) {
	n := 30
	clock := make([]float64, n)
	for i := range clock {
		clock[i] = 0.1 * float64(i)
	}
	want := 0.12
	roller := constant(n, (1-want)*DrivelineSpeed(3000, 0.33, 1.35*3.7))
	gear := constant(n, 3)
	for i := range 10 {
		gear[i] = 2
	}
	locked := constant(n, 1)
	locked[29] = 0
	ctx := unstated()
	ctx.Vehicle = &manual
	columns := map[string][]float64{"engine_speed_rpm": constant(n, 3000), "roller_speed_kmh": roller, "gear": gear, "converter_locked_frac": locked}
	f, _ := made(clock, columns, ctx)
	slip := f.Column("tyre_slip_frac")
	near(t, "slip", slip[20], want, 1e-12)
	for _, i := range []int{8, 10, 11, 29} {
		if !math.IsNaN(slip[i]) {
			t.Errorf("row %d, in a shift or unlocked: slip %v", i, slip[i])
		}
	}
	delete(columns, "gear")
	ctx.Vehicle = &schema.Vehicle{}
	if f, _ := made(clock, columns, ctx); f.Has("tyre_slip_frac") {
		t.Error("slip without a vehicle")
	}
}
