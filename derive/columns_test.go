package derive

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"dynolake/schema"
)

var nan = math.NaN()

// frame makes rows 0.1 s apart.
func frame(columns map[string][]float64) *schema.Frame {
	n := 0
	for _, c := range columns {
		n = len(c)
	}
	clock := make([]float64, n)
	for i := range clock {
		clock[i] = 0.1 * float64(i)
	}
	f := schema.NewFrame(clock)
	for name, c := range columns {
		f.Set(name, c)
	}
	return f
}

func unstated() Context {
	return Context{Run: schema.Run{BaroKPa: nan, AmbientC: nan, HumidityPct: nan}, SheetGear: nan}
}

func codes(findings []schema.Finding) []string {
	var out []string
	for _, f := range findings {
		out = append(out, f.Code)
	}
	return out
}

func want(t *testing.T, f *schema.Frame, columns map[string][]float64) {
	t.Helper()
	for name, w := range columns {
		if d := cmp.Diff(w, f.Column(name), cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-9)); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
}

func TestPressuresWithOutlet(t *testing.T) {
	f := frame(map[string][]float64{
		"baro_kpa": {100, 100, 100, nan}, "map_kpa": {250, 135, 134.9, 250}, "turbine_in_kpa": {330, 180, 180, 330}, "turbine_out_kpa": {120, 110, nan, 120},
		"exhaust_total_kpa": {19, 9, 9, 19}, "dpf_delta_kpa": {8, 3, 3, 8}, "compressor_out_kpa": {260, nan, 140, 260}, "inlet_kpa": {97, 97, 0, 97},
		"map_set_kpa": {240, 240, nan, 240}, "rail_kpa": {1e5, 1e5, 1e5, 1e5}, "rail_set_kpa": {1.1e5, 9e4, nan, 1e5}, "vane_pct": {40, 50, 60, 70}, "vane_set_pct": {45, 45, 45, nan},
	})
	ctx := unstated()
	ctx.Run.BaroKPa = 99
	got := codes(Columns(f, ctx))
	want(t, f, map[string][]float64{
		"boost_kpa": {150, 35, 34.9, 151}, "net_drive_kpa": {210, 70, nan, 210}, "drive_basis": {0, 0, nan, 0}, "drive_ratio": {1.4, 2, nan, 210. / 151},
		"gross_drive_kpa": {230, 80, 80, 231}, "gross_ratio": {230. / 150, 80. / 35, nan, 231. / 151}, "expansion_ratio": {2.75, 180. / 110, nan, 2.75},
		"compressor_ratio": {260. / 97, nan, nan, 260. / 97}, "exhaust_gauge_kpa": {20, 10, nan, 21}, "after_dpf_kpa": {12, 7, nan, 13},
		"rail_error_kpa": {-1e4, 1e4, nan, 0}, "map_error_kpa": {10, -105, nan, 10}, "vane_error_pct": {-5, 5, 15, nan},
	})
	if d := cmp.Diff([]string{"baro_held"}, got); d != "" {
		t.Error(d)
	}
}

func TestPressuresOfTheWholeSystem(t *testing.T) {
	f := frame(map[string][]float64{"map_kpa": {250, 250}, "turbine_in_kpa": {330, nan}, "exhaust_total_kpa": {25, 25}, "dpf_delta_kpa": {8, nan}})
	ctx := unstated()
	ctx.Run.BaroKPa = 100
	if got := codes(Columns(f, ctx)); got != nil {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{
		"boost_kpa": {150, 150}, "net_drive_kpa": {205, nan}, "drive_basis": {1, nan}, "drive_ratio": {205. / 150, nan}, "gross_drive_kpa": {230, nan},
		"expansion_ratio": nil, "compressor_ratio": {2.5, 2.5}, "exhaust_gauge_kpa": {25, 25}, "after_dpf_kpa": {17, nan}, "rail_error_kpa": nil,
	})
}

// A vehicle without a sensor behind the turbine has no net drive, and gross drive must not stand in for it.
func TestGrossAlone(t *testing.T) {
	f := frame(map[string][]float64{"baro_kpa": {100}, "map_kpa": {200}, "turbine_in_kpa": {250}})
	Columns(f, unstated())
	want(t, f, map[string][]float64{"gross_ratio": {1.5}, "net_drive_kpa": nil, "drive_ratio": nil, "drive_basis": nil, "exhaust_gauge_kpa": nil})
}

func TestBarometricIsHeldOnlyWhereItStands(t *testing.T) {
	f := frame(map[string][]float64{"map_kpa": {200, 200, 200}, "baro_kpa": {99, nan, 99.2}})
	if got := codes(Columns(f, unstated())); !slices.Equal(got, []string{"baro_held"}) {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"boost_kpa": {101, 100.9, 100.8}})
	f = frame(map[string][]float64{"map_kpa": {200, 200, 200}, "baro_kpa": {99, nan, 92}})
	Columns(f, unstated())
	want(t, f, map[string][]float64{"boost_kpa": {101, nan, 108}})
	f = frame(map[string][]float64{"map_kpa": {200}})
	if got := codes(Columns(f, unstated())); !slices.Equal(got, []string{"baro_missing"}) {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"boost_kpa": nil})
}

// Whatever the inputs, a ratio exists only from 35 kPa of boost, a missing input leaves nothing behind it, and no result is infinite.
func TestMissingStaysMissingAndSmallBoostIsNoDivisor(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const n = 500
	columns := map[string][]float64{}
	for _, c := range []struct {
		name     string
		low, top float64
	}{{"baro_kpa", 90, 103}, {"map_kpa", 80, 300}, {"turbine_in_kpa", 90, 450}, {"turbine_out_kpa", -5, 150}, {"dpf_delta_kpa", 0, 20}, {"engine_speed_rpm", 0, 4000}, {"wheel_power_kw", -20, 300}} {
		for range n {
			v := c.low + (c.top-c.low)*r.Float64()
			if r.IntN(10) == 0 {
				v = nan
			}
			columns[c.name] = append(columns[c.name], v)
		}
	}
	columns["baro_kpa"][0], columns["baro_kpa"][1] = 90, 103 // Too far apart to be held.
	f := frame(columns)
	Columns(f, unstated())
	ratio, boost, net, torque := f.Column("drive_ratio"), f.Column("boost_kpa"), f.Column("net_drive_kpa"), f.Column("torque_nm")
	for i := range n {
		missing := math.IsNaN(columns["baro_kpa"][i] + columns["map_kpa"][i])
		if math.IsNaN(boost[i]) != missing {
			t.Fatalf("row %d: boost %v", i, boost[i])
		}
		if (boost[i] >= 35 && !math.IsNaN(net[i])) == math.IsNaN(ratio[i]) {
			t.Fatalf("row %d: ratio %v at boost %v", i, ratio[i], boost[i])
		}
		if rpm := columns["engine_speed_rpm"][i]; (rpm > 300 && !math.IsNaN(columns["wheel_power_kw"][i])) == math.IsNaN(torque[i]) {
			t.Fatalf("row %d: torque %v at %v 1/min", i, torque[i], rpm)
		}
	}
	for _, name := range f.Names() {
		if slices.ContainsFunc(f.Column(name), func(v float64) bool { return math.IsInf(v, 0) }) {
			t.Errorf("%s holds an infinity", name)
		}
	}
}

// Names of the columns made are the catalogue's, and what was logged stays as it was.
func TestColumnsAreTheCatalogues(t *testing.T) {
	logged := []float64{10, 20}
	f := frame(map[string][]float64{"wheel_power_kw": logged, "torque_nm": {1, nan}, "engine_speed_rpm": {2000, 3000}, "roller_force_n": {1e3, 1e3}, "roller_speed_kmh": {90, 100}})
	if got := codes(Columns(f, unstated())); got != nil {
		t.Errorf("findings %v", got)
	}
	want(t, f, map[string][]float64{"wheel_power_kw": {10, 20}, "torque_nm": {1, nan}})
	for _, name := range f.Names() {
		if _, ok := schema.Lookup(name); !ok {
			t.Errorf("%s is not in the catalogue", name)
		}
	}
}

func TestEmptyFrame(t *testing.T) {
	f := schema.NewFrame(nil)
	f.Set("map_kpa", nil)
	if got := Columns(f, unstated()); len(got) != 0 || len(f.Names()) != 1 {
		t.Errorf("findings %v, columns %v", got, f.Names())
	}
}

func TestRowsAreNotAllocatedFor(t *testing.T) {
	made := func(n int) float64 {
		f := frame(map[string][]float64{"map_kpa": slices.Repeat([]float64{250}, n), "turbine_in_kpa": slices.Repeat([]float64{300}, n), "turbine_out_kpa": slices.Repeat([]float64{110}, n),
			"engine_speed_rpm": slices.Repeat([]float64{2500}, n), "roller_speed_kmh": slices.Repeat([]float64{100}, n), "roller_force_n": slices.Repeat([]float64{4000}, n),
			"fuel_kg_h": slices.Repeat([]float64{20}, n), "vehicle_speed_kmh": slices.Repeat([]float64{100}, n), "maf_g_s": slices.Repeat([]float64{100}, n), "charge_c": slices.Repeat([]float64{45}, n),
			"inlet_kpa": slices.Repeat([]float64{96}, n), "inlet_c": slices.Repeat([]float64{25}, n), "compressor_out_kpa": slices.Repeat([]float64{255}, n), "compressor_out_c": slices.Repeat([]float64{150}, n),
			"turbine_in_c": slices.Repeat([]float64{650}, n), "dpf_delta_kpa": slices.Repeat([]float64{8}, n), "dpf_in_c": slices.Repeat([]float64{450}, n), "lambda_ratio": slices.Repeat([]float64{1.3}, n)})
		ctx := unstated()
		ctx.Run.BaroKPa, ctx.Run.AmbientC, ctx.Run.HumidityPct, ctx.Run.Standard = 99, 20, 40, "unr85"
		ctx.Vehicle = &schema.Vehicle{DisplacementL: 2.2, Cylinders: 4, DrivelineEfficiency: 0.8, GearRatios: []float64{4, 2.2, 1.4, 1}, FinalDrive: 3.7, RollingRadiusM: 0.33}
		return testing.AllocsPerRun(5, func() { Columns(f, ctx) })
	}
	if few, many := made(100), made(10000); many > few+50 {
		t.Errorf("%v allocations for 100 rows, %v for 10000", few, many)
	}
}

func BenchmarkColumns(b *testing.B) {
	const n = 10000
	f := frame(map[string][]float64{"map_kpa": slices.Repeat([]float64{250}, n), "turbine_in_kpa": slices.Repeat([]float64{300}, n), "turbine_out_kpa": slices.Repeat([]float64{110}, n),
		"engine_speed_rpm": slices.Repeat([]float64{2500}, n), "roller_speed_kmh": slices.Repeat([]float64{100}, n), "vehicle_speed_kmh": slices.Repeat([]float64{100}, n)})
	ctx := unstated()
	ctx.Run.BaroKPa = 99
	ctx.Dyno = &schema.Dyno{Kind: "inertia", EquivalentMassKg: 1200}
	ctx.Vehicle = &schema.Vehicle{GearRatios: []float64{4, 2.2, 1.4, 1}, FinalDrive: 3.7, RollingRadiusM: 0.33}
	b.ReportAllocs()
	for b.Loop() {
		f.Drop("wheel_power_kw")
		Columns(f, ctx)
	}
}
