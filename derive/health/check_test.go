package health

import (
	"math"
	"slices"
	"testing"

	"dynolake/schema"
)

// noise is a small generator that gives the same numbers everywhere.
type noise uint32

func (n *noise) next() float64 {
	*n = *n*1664525 + 1013904223
	return float64(*n>>8)/(1<<24) - 0.5
}

// drive is two minutes of idling, three pulls through the gears and coasting at a rate, as clean sensors log it: what is ordinary and must raise nothing.
func drive(hz float64) map[string]Channel {
	n := int(120 * hz)
	t := make([]float64, n)
	names := []string{"pedal_pct", "engine_speed_rpm", "vehicle_speed_kmh", "map_kpa", "compressor_out_kpa", "turbine_in_kpa", "maf_g_s", "fuel_kg_h", "turbine_in_c", "turbo_speed_rpm", "rail_kpa", "rail_set_kpa", "vane_pct", "vane_set_pct", "coolant_c", "baro_kpa", "exhaust_total_kpa", "lambda_ratio", "torque_nm"}
	v := map[string][]float64{}
	for _, name := range names {
		v[name] = make([]float64, n)
	}
	r, boost, egt := noise(5), 0.0, 250.0
	for i := range n {
		at := float64(i) / hz
		t[i] = at
		phase := math.Mod(at, 40)
		pedal, rpm, speed := 0.0, 800.0, 0.0
		switch {
		case phase < 10: // Idle.
		case phase < 30: // A pull through two gears.
			pedal = 100
			rpm = 1400 + 250*math.Mod(phase-10, 10)
			speed = 30 + 6*(phase-10)
		default: // Coasting down.
			rpm = math.Max(800, 3000-260*(phase-30))
			speed = math.Max(0, 150-15*(phase-30))
		}
		boost += (1.4*pedal*math.Min(1, rpm/2000) - boost) / hz / 0.7
		egt += (250 + 4.2*pedal - egt) / hz / 2.5
		flow := 0.00045 * rpm * (100 + boost) / 2
		fuel := pedal * rpm / 9000
		put := func(name string, x, scatter float64) { v[name][i] = x + scatter*r.next() }
		put("pedal_pct", pedal, 0)
		put("engine_speed_rpm", rpm, 6)
		put("vehicle_speed_kmh", math.Round(speed), 0)
		put("map_kpa", math.Round(100+boost), 0)
		put("compressor_out_kpa", 101+1.04*boost, 0.6)
		put("turbine_in_kpa", 103+1.3*boost, 1)
		put("maf_g_s", flow, 0.4)
		put("fuel_kg_h", fuel, 0)
		put("turbine_in_c", math.Round(egt), 0)
		put("turbo_speed_rpm", 12000+900*boost, 300)
		put("rail_kpa", 30000+1100*pedal, 900)
		put("rail_set_kpa", 30000+1100*pedal, 0)
		put("vane_pct", 70-0.4*pedal, 0.3)
		put("vane_set_pct", 70-0.4*pedal, 0)
		put("coolant_c", 88+math.Round(at/60), 0)
		put("baro_kpa", 100, 0)
		put("exhaust_total_kpa", math.Max(0, math.Round(flow/2)/10), 0)
		put("lambda_ratio", math.Min(2, 14.5/math.Max(fuel, 0.1)), 0)
		put("torque_nm", 3*pedal, 0)
	}
	out := map[string]Channel{}
	for name, x := range v {
		column, _ := schema.Lookup(name)
		out[name] = Channel{Column: column, Name: name, Unit: column.Unit, Source: "drive", T: t, Logged: x, Scale: 1}
	}
	return out
}

// checked gives the findings of a drive, in the order of its channels' names.
func checked(drive map[string]Channel) []schema.Finding {
	var names []string
	for name := range drive {
		names = append(names, name)
	}
	slices.Sort(names)
	var list []Channel
	for _, name := range names {
		list = append(list, drive[name])
	}
	return Check(list, 100)
}

func TestOrdinaryChannelsRaiseNothing(t *testing.T) {
	for _, hz := range []float64{1, 4, 10, 25, 100} {
		for _, f := range checked(drive(hz)) {
			t.Errorf("at %g Hz: %s %s: %s", hz, f.Code, f.Channel, f.Text)
		}
	}
	held := drive(10) // A gauge that reads boost and has its floor at zero.
	c := held["map_kpa"]
	for i := range c.Logged {
		c.Logged[i] = math.Max(0, c.Logged[i]-102)
	}
	c.AddBaro = true
	held["map_kpa"] = c
	for _, f := range checked(held) {
		t.Errorf("boost at zero: %s %s: %s", f.Code, f.Channel, f.Text)
	}
}

// spoil alters one channel of a drive from t0 to t1.
func spoil(hz float64, name string, t0, t1 float64, to func(i int, v float64) float64) map[string]Channel {
	d := drive(hz)
	c := d[name]
	for i, at := range c.T {
		if at >= t0 && at < t1 {
			c.Logged[i] = to(i, c.Logged[i])
		}
	}
	return d
}

func TestFaultsAreFound(t *testing.T) {
	limit := func(most float64) func(int, float64) float64 {
		return func(_ int, v float64) float64 { return math.Min(v, most) }
	}
	constant := func(x float64) func(int, float64) float64 { return func(int, float64) float64 { return x } }
	nothing := func(int, float64) float64 { return math.NaN() }
	for name, c := range map[string]struct {
		drive          map[string]Channel
		code, channel  string
		value, t0, t1  float64
		tolerance, off float64 // Of the value and of the times.
	}{
		"manifold pressure hangs":       {spoil(10, "map_kpa", 45, 62, constant(112)), "channel_stuck", "map_kpa", 17, 45, 62, 0.2, 0.2},
		"and for the whole run":         {spoil(10, "map_kpa", 0, 999, constant(97)), "channel_stuck", "map_kpa", 120, 0, 120, 1, 1},
		"air meter hangs":               {spoil(25, "maf_g_s", 5, 20, constant(14.2)), "channel_stuck", "maf_g_s", 15, 5, 20, 0.2, 0.2},
		"thermocouple hangs":            {spoil(10, "turbine_in_c", 50, 70, constant(300)), "channel_stuck", "turbine_in_c", 20, 50, 70, 0.2, 0.2},
		"vanes seize":                   {spoil(10, "vane_pct", 46, 56, constant(70)), "channel_stuck", "vane_pct", 10, 46, 56, 0.2, 0.2},
		"a byte is full":                {spoil(10, "turbine_in_kpa", 0, 999, limit(255)), "channel_saturated", "turbine_in_kpa", 50, 12, 111, 8, 2},
		"5 V":                           {volts(spoil(10, "compressor_out_kpa", 0, 999, limit(225))), "channel_saturated", "compressor_out_kpa", 50, 12, 111, 12, 3},
		"an amplifier clips":            {spoil(25, "compressor_out_kpa", 0, 999, limit(221.7)), "channel_clipped", "compressor_out_kpa", 50, 12, 111, 12, 3},
		"an open sensor":                {spoil(10, "coolant_c", 0, 999, constant(-40)), "channel_saturated", "coolant_c", 120, 0, 120, 1, 1},
		"two bytes are full":            {spoil(10, "turbo_speed_rpm", 0, 999, limit(65535)), "channel_saturated", "turbo_speed_rpm", 60, 11, 111, 9, 2},
		"a loose plug":                  {spoil(10, "turbine_in_c", 55, 55.45, constant(0)), "channel_dropout", "turbine_in_c", 1, 55, 55.4, 0, 0.2},
		"blank cells":                   {spoil(10, "maf_g_s", 55, 60, nothing), "channel_dropout", "maf_g_s", 1, 54.9, 60, 0, 0.2},
		"one spike":                     {spoil(10, "turbine_in_kpa", 55, 55.05, constant(900)), "channel_spiking", "turbine_in_kpa", 1, 55, 55, 0, 0.2},
		"boost in whole tenths of bar":  {spoil(10, "map_kpa", 0, 999, func(_ int, v float64) float64 { return 10 * math.Round(v/10) }), "channel_coarse", "map_kpa", 10, 0, 120, 0.01, 1},
		"speed sensor hangs on the way": {spoil(10, "vehicle_speed_kmh", 52, 66, constant(42)), "", "", 0, 0, 0, 0, 0}, // The engine's speed alone does not tell it.
	} {
		found := checked(c.drive)
		if c.code == "" {
			if len(found) != 0 {
				t.Errorf("%s: %+v", name, found)
			}
			continue
		}
		if len(found) != 1 || found[0].Code != c.code || found[0].Channel != c.channel {
			t.Errorf("%s: want one %s of %s, got %+v", name, c.code, c.channel, found)
			continue
		}
		f := found[0]
		if math.Abs(f.Value-c.value) > c.tolerance || math.Abs(f.T0S-c.t0) > c.off || math.Abs(f.T1S-c.t1) > c.off || f.Unit == "" {
			t.Errorf("%s: %g %s from %g to %g s, want %g from %g to %g", name, f.Value, f.Unit, f.T0S, f.T1S, c.value, c.t0, c.t1)
		}
	}
}

// volts turns a pressure of 0 to 225 kPa into the 0 to 5 V that it was logged in.
func volts(d map[string]Channel) map[string]Channel {
	c := d["compressor_out_kpa"]
	for i := range c.Logged {
		c.Logged[i] /= 45
	}
	c.Unit, c.Scale = "V", 45
	d["compressor_out_kpa"] = c
	return d
}

// A log of few channels tells a dead sensor by pedal and engine speed.
func TestADeadChannelAmongFew(t *testing.T) {
	few := func(d map[string]Channel) map[string]Channel {
		for name := range d {
			if !slices.Contains([]string{"pedal_pct", "engine_speed_rpm", "map_kpa"}, name) {
				delete(d, name)
			}
		}
		return d
	}
	dead := spoil(10, "map_kpa", 0, 999, func(int, float64) float64 { return 101 })
	if found := checked(few(dead)); len(found) != 1 || found[0].Code != "channel_stuck" || found[0].Channel != "map_kpa" {
		t.Errorf("%+v", found)
	}
	if found := checked(few(drive(10))); len(found) != 0 {
		t.Errorf("sound: %+v", found)
	}
	idle := few(dead)
	c := idle["pedal_pct"]
	c.Logged = make([]float64, len(c.T))
	idle["pedal_pct"] = c
	if found := checked(idle); len(found) != 0 {
		t.Errorf("without a foot on the pedal: %+v", found)
	}
}

// A thermocouple cannot leap and come back within two seconds.
func TestATemperatureSpikesAtOneHertz(t *testing.T) {
	d := spoil(1, "turbine_in_c", 55, 55.5, func(int, float64) float64 { return 1150 })
	if found := checked(d); len(found) != 1 || found[0].Code != "channel_spiking" || found[0].T0S != 55 {
		t.Errorf("%+v", found)
	}
}

// A settled temperature that is logged in whole degrees flickers; that is no spike.
func TestASettledTemperatureFlickers(t *testing.T) {
	d := spoil(10, "coolant_c", 0, 999, func(i int, _ float64) float64 {
		if i%83 == 40 {
			return 89
		}
		return 88 + 2*float64(i/600)
	})
	if found := checked(d); len(found) != 0 {
		t.Errorf("%+v", found)
	}
}

func TestManySpikesAreADoubt(t *testing.T) {
	d := drive(25)
	c := d["maf_g_s"]
	for i := 40; i < len(c.Logged); i += 97 {
		c.Logged[i] += 400
	}
	found := checked(d)
	if len(found) != 1 || found[0].Code != "channel_spiking" || found[0].Severity != schema.Doubt || found[0].Value < 25 {
		t.Errorf("%+v", found)
	}
}

// A boost gauge that scan tools make of a byte of manifold pressure ends where the byte does: at 255 kPa less barometric.
func TestSaturatedGauge(t *testing.T) {
	d := spoil(10, "map_kpa", 0, 999, func(_ int, v float64) float64 { return math.Max(0, math.Min(1.3*(v-100), 155)) })
	c := d["map_kpa"]
	c.AddBaro = true
	d["map_kpa"] = c
	if found := checked(d); len(found) != 1 || found[0].Code != "channel_saturated" {
		t.Errorf("%+v", found)
	}
}

func TestValuesStay(t *testing.T) {
	d := spoil(10, "map_kpa", 45, 62, func(i int, v float64) float64 { return 100 })
	before := map[string][]float64{}
	for name, c := range d {
		before[name] = slices.Clone(c.Logged)
	}
	checked(d)
	for name, c := range d {
		if !slices.Equal(c.Logged, before[name]) {
			t.Errorf("%s was altered", name)
		}
	}
}

func TestTooLittleToJudge(t *testing.T) {
	column, _ := schema.Lookup("map_kpa")
	nan := math.NaN()
	for name, v := range map[string][]float64{"none": nil, "missing": {nan, nan, nan}, "one": {100}, "few": {100, 100, 100, 255, 255}} {
		at := make([]float64, len(v))
		for i := range at {
			at[i] = float64(i)
		}
		if found := Check([]Channel{{Column: column, T: at, Logged: v, Scale: 1}}, nan); len(found) != 0 {
			t.Errorf("%s: %+v", name, found)
		}
	}
}

func BenchmarkCheck(b *testing.B) {
	d := drive(1000)
	b.ResetTimer()
	for range b.N {
		checked(d)
	}
}
