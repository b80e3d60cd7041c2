package derive

import (
	"math"
	"testing"

	"dynolake/schema"
)

// geared is a run through three gears with an overall scale, the gear logged, and one gear's ratio off by a factor.
func geared(scale, second float64) (*schema.Frame, Context) {
	vehicle := &schema.Vehicle{GearRatios: []float64{3.9, 2.1, 1.35}, FinalDrive: 3.7, RollingRadiusM: 0.33}
	f := schema.NewFrame(make([]float64, 300))
	rpm, speed, gear := make([]float64, 300), make([]float64, 300), make([]float64, 300)
	for i := range f.T {
		k := i / 100
		f.T[i] = float64(i) * 0.1
		ratio := vehicle.GearRatios[k]
		if k == 1 {
			ratio *= second
		}
		speed[i] = 20 + 15*float64(k) + 0.1*float64(i%100)
		rpm[i] = scale * ratio * vehicle.FinalDrive * speed[i] / 3.6 / vehicle.RollingRadiusM * 30 / math.Pi
		gear[i] = float64(k + 1)
	}
	f.Set("engine_speed_rpm", rpm)
	f.Set("vehicle_speed_kmh", speed)
	f.Set("gear", gear)
	return f, Context{Run: schema.Run{BaroKPa: math.NaN()}, Vehicle: vehicle, SheetGear: math.NaN()}
}

func TestGearRatiosAreChecked(t *testing.T) {
	for name, c := range map[string]struct {
		scale, second float64
		off           bool
	}{
		"as stated":              {1, 1, false},
		"other tyres throughout": {1.05, 1, false}, // gear_scale tells that.
		"second is another":      {1, 1.07, true},
		"noise of a coarse log":  {1, 1.02, false},
	} {
		f, ctx := geared(c.scale, c.second)
		found := byCode(Columns(f, ctx))
		off, ok := found["gear_ratio_off"]
		if ok != c.off {
			t.Errorf("%s: %+v", name, off)
		}
		if ok {
			near(t, name, off.Value, 2.1*c.second, 0.01)
		}
		if _, ok := found["gear_scale"]; ok != (c.scale != 1) {
			t.Errorf("%s: gear_scale told: %t", name, ok)
		}
	}
	f, ctx := geared(1, 1.07)
	f.Set("converter_locked_frac", make([]float64, 300))
	if _, ok := byCode(Columns(f, ctx))["gear_ratio_off"]; ok {
		t.Error("an open converter was taken for another ratio")
	}
}
