package derive

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"dynolake/schema"
)

// sweep makes a pull at a constant acceleration: speeds in km/h over 8 s, rows 0.05 s apart.
func sweep(from, to float64) (clock, kmh []float64) {
	const seconds = 8
	for x := 0.0; x <= seconds+1e-9; x += 0.05 {
		clock, kmh = append(clock, x), append(kmh, from+(to-from)*x/seconds)
	}
	return clock, kmh
}

func made(clock []float64, columns map[string][]float64, ctx Context) (*schema.Frame, []string) {
	f := schema.NewFrame(clock)
	for name, c := range columns {
		f.Set(name, c)
	}
	return f, codes(Columns(f, ctx))
}

func constant(n int, v float64) []float64 { return slices.Repeat([]float64{v}, n) }

// 222.22 kg at 120 km/h while it gains 120 km/h in 8 s: 30.864 kW, and the friction's force times speed in addition.
func TestPowerFromInertia(t *testing.T) {
	clock, v := sweep(60, 180)
	ctx := unstated()
	ctx.Dyno = &schema.Dyno{Kind: "inertia", EquivalentMassKg: 20 / 0.09}
	f, got := made(clock, map[string][]float64{"roller_speed_kmh": v, "engine_speed_rpm": constant(len(v), 3000)}, ctx)
	if !slices.Equal(got, []string{"power_from_inertia"}) {
		t.Errorf("findings %v", got)
	}
	const i = 80
	near(t, "power", f.Column("wheel_power_kw")[i], 30.864, 5e-4)
	near(t, "torque", f.Column("torque_nm")[i], 30.864*9549.297/3000, 5e-3)
	ctx.Dyno.Friction = []float64{120, 0.9, 0.03}
	f, _ = made(clock, map[string][]float64{"roller_speed_kmh": v}, ctx)
	near(t, "power with friction", f.Column("wheel_power_kw")[i], 30.864+(120+0.9*120+0.03*120*120)*120/3.6/1000, 5e-4)
	ctx.Dyno.EquivalentMassKg = 0
	f, got = made(clock, map[string][]float64{"roller_speed_kmh": v}, ctx)
	if f.Has("wheel_power_kw") || !slices.Equal(got, []string{"equivalent_mass_missing"}) {
		t.Errorf("without a mass: findings %v", got)
	}
}

// Noise of the speed sensor comes out small: 0.05 km/h at 20 Hz on 1200 kg within a few per cent.
func TestPowerFromInertiaUnderNoise(t *testing.T) {
	clock, v := sweep(50, 170)
	r := rand.New(rand.NewPCG(3, 4))
	for i := range v {
		v[i] += 0.05 * r.NormFloat64()
	}
	ctx := unstated()
	ctx.Dyno = &schema.Dyno{Kind: "inertia", EquivalentMassKg: 1200}
	f, _ := made(clock, map[string][]float64{"roller_speed_kmh": v}, ctx)
	worst := 0.0
	for i, p := range f.Column("wheel_power_kw") {
		if clock[i] > 0.5 && clock[i] < 7.5 {
			truth := 1200 * 15 / 3.6 * v[i] / 3.6 / 1000
			worst = max(worst, math.Abs(p/truth-1))
		}
	}
	if worst > 0.05 {
		t.Errorf("off by up to %.1f %%", 100*worst)
	}
}

func TestPowerFromForce(t *testing.T) {
	clock, v := sweep(60, 180)
	force := constant(len(v), 5000)
	i := 80 // 120 km/h, 4.1667 m/s².
	columns := map[string][]float64{"roller_speed_kmh": v, "roller_force_n": force, "torque_nm": constant(len(v), 1), "engine_speed_rpm": constant(len(v), 1)}
	ctx := unstated()
	f, got := made(clock, columns, ctx)
	near(t, "power", f.Column("wheel_power_kw")[i], 5000*120/3.6/1000, 1e-9)
	if !slices.Equal(got, []string{"power_from_force"}) {
		t.Errorf("findings %v", got)
	}
	ctx.Run.Test = "sweep"
	ctx.Dyno = &schema.Dyno{Kind: "brake", EquivalentMassKg: 300}
	f, _ = made(clock, columns, ctx)
	near(t, "brake in a sweep", f.Column("wheel_power_kw")[i], (5000+300*15/3.6)*120/3.6/1000, 1e-6)
	ctx.Run.Test = "steps"
	f, _ = made(clock, columns, ctx)
	near(t, "brake in steps", f.Column("wheel_power_kw")[i], 5000*120/3.6/1000, 1e-9)
	ctx.Dyno.Kind, ctx.Run.Test = "inertia", "sweep"
	f, _ = made(clock, columns, ctx)
	near(t, "inertia", f.Column("wheel_power_kw")[i], 5000*120/3.6/1000, 1e-9)
	// A power that was logged counts as it is, whatever the dyno.
	ctx.Dyno.Kind = "brake"
	columns["wheel_power_kw"] = constant(len(v), 99)
	f, got = made(clock, columns, ctx)
	if near(t, "logged", f.Column("wheel_power_kw")[i], 99, 0); got != nil {
		t.Errorf("findings %v", got)
	}
}

func TestPowerFromTorques(t *testing.T) {
	clock := []float64{0, 0.1, 0.2}
	f, got := made(clock, map[string][]float64{"torque_nm": {400, nan, 300}, "engine_speed_rpm": {2000, 2000, 5252.113}}, unstated())
	if !slices.Equal(got, []string{"power_from_torque"}) {
		t.Errorf("findings %v", got)
	}
	near(t, "torque x speed", f.Column("wheel_power_kw")[0], 83.7758, 5e-5)
	near(t, "300 lb-ft at 5252 1/min are 300 hp", f.Column("wheel_power_kw")[2]*footPound/0.7456998715822702, 300, 1e-4)
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{GearRatios: []float64{4, 2, 1}, FinalDrive: 4, RollingRadiusM: 0.3}
	ctx.SheetGear = 3
	f, got = made(clock, map[string][]float64{"wheel_torque_nm": constant(3, 1600), "engine_speed_rpm": constant(3, 2000)}, ctx)
	if !slices.Equal(got, []string{"power_from_wheel_torque"}) {
		t.Errorf("findings %v", got)
	}
	near(t, "by the overall ratio", f.Column("wheel_power_kw")[1], 83.7758, 5e-5) // 400 N·m at 2000 1/min through 4:1.
	f, _ = made(clock, map[string][]float64{"wheel_torque_nm": constant(3, 1600), "output_shaft_rpm": constant(3, 2000)}, ctx)
	near(t, "by the output shaft", f.Column("wheel_power_kw")[1], 83.7758, 5e-5)
	f, _ = made(clock, map[string][]float64{"wheel_torque_nm": constant(3, 1600), "vehicle_speed_kmh": constant(3, 500*2*math.Pi*0.3*0.06)}, ctx)
	near(t, "by the rolling radius", f.Column("wheel_power_kw")[1], 83.7758, 5e-5)
}

func TestPowerFromRoadLoad(t *testing.T) {
	clock, v := sweep(60, 108)
	ctx := unstated()
	ctx.Run.Test = "road"
	ctx.Vehicle = &schema.Vehicle{MassKg: 2000, RoadLoad: []float64{150, 1, 0.04}}
	columns := map[string][]float64{"vehicle_speed_kmh": v}
	f, got := made(clock, columns, ctx)
	if !slices.Equal(got, []string{"power_from_road_load"}) {
		t.Errorf("findings %v", got)
	}
	i := 80 // 84 km/h, 6 km/h/s.
	near(t, "power", f.Column("wheel_power_kw")[i], (2060*6/3.6+150+84+0.04*84*84)*84/3.6/1000, 1e-6)
	for _, test := range []string{"sweep", "coast", ""} {
		ctx.Run.Test = test
		if f, got := made(clock, columns, ctx); f.Has("wheel_power_kw") || got != nil {
			t.Errorf("test %q: power from road load, findings %v", test, got)
		}
	}
}
