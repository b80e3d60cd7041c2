package derive

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"dynolake/schema"
)

// measured is a steady full-load point of a light diesel, and how far its sensors may read off: bounds, so that the standard
// uncertainty is a √3rd of them.
func measured(n int) (map[string][]float64, Context) {
	columns := map[string][]float64{}
	for name, v := range map[string]float64{
		"baro_kpa": 98, "map_kpa": 248, "turbine_in_kpa": 380, "turbine_out_kpa": 130, "dpf_delta_kpa": 12, "inlet_kpa": 95, "inlet_c": 27, "compressor_out_kpa": 255, "compressor_out_c": 152, "charge_c": 48,
		"ambient_c": 22, "engine_speed_rpm": 3400, "roller_force_n": 3300, "roller_speed_kmh": 105, "maf_g_s": 128, "fuel_kg_h": 22,
	} {
		columns[name] = constant(n, v)
	}
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{DisplacementL: 2.2, Cylinders: 4, Strokes: 4, DrivelineEfficiency: 0.88, FuelStoichRatio: 14.5, Accuracy: map[string]schema.Accuracy{
		"baro_kpa": {Half: 0.3}, "map_kpa": {Half: 1}, "turbine_in_kpa": {Share: 0.005}, "turbine_out_kpa": {Half: 1}, "dpf_delta_kpa": {Half: 0.2}, "inlet_kpa": {Half: 0.3}, "inlet_c": {Half: 1.5},
		"compressor_out_kpa": {Half: 1}, "compressor_out_c": {Half: 1.5}, "engine_speed_rpm": {Half: 5}, "roller_force_n": {Share: 0.01}, "roller_speed_kmh": {Half: 0.3}, "maf_g_s": {Share: 0.03, Coverage: 2}, "fuel_kg_h": {Share: 0.02},
	}}
	return columns, ctx
}

func uncertaintyOf(t *testing.T, f *schema.Frame, ctx Context, column string) Uncertainty {
	t.Helper()
	u := Uncertainties(f, ctx, []string{column}, f.Len()/2)
	if len(u) != 1 {
		t.Fatalf("%s has %d uncertainties", column, len(u))
	}
	return u[0]
}

// First order by hand, with the formulas' derivatives and rectangular bounds (GUM, JCGM 100:2008, eq. 10 and 4.3.7).
func TestUncertaintiesByHand(t *testing.T) {
	columns, ctx := measured(5)
	f := frame(columns)
	s := math.Sqrt(3)
	in, out, manifold, baro := 1.9/s, 1/s, 1/s, 0.3/s
	net, boost := 250., 150.
	ratio := net / boost
	force, speed := 0.01/s, 0.3/105/s
	eff := CompressorEfficiency(95, 255, Celsius(27), Celsius(152))
	pi := math.Pow(255./95, 2./7)
	perRatio := 2. / 7 * pi / (pi - 1) // d ln η / d ln Π.
	t1 := 300.15
	for column, want := range map[string]float64{
		"boost_kpa":           math.Hypot(manifold, baro),
		"net_drive_kpa":       math.Hypot(in, out),
		"drive_ratio":         ratio * math.Sqrt((in*in+out*out)/(net*net)+(manifold*manifold+baro*baro)/(boost*boost)),
		"gross_drive_kpa":     math.Hypot(in, baro),
		"exhaust_gauge_kpa":   math.Hypot(out, baro),
		"expansion_ratio":     380. / 130 * math.Hypot(in/380, out/130),
		"dpf_delta_kpa":       0.2 / s,
		"wheel_power_kw":      96.25 * math.Hypot(force, speed),
		"torque_nm":           96.25 * TorqueSpeed / 3400 * math.Hypot(math.Hypot(force, speed), 5/s/3400),
		"lambda_calc_ratio":   128 * 3.6 / 22 / 14.5 * math.Hypot(0.015, 0.02/s),
		"bsfc_g_kwh":          22000 / (96.25 / 0.88) * math.Sqrt(force*force+speed*speed+0.02*0.02/3),
		"compressor_eff_frac": eff * math.Hypot(perRatio*math.Hypot(1/s/255, 0.3/s/95), math.Hypot(1.5/s/125, 1.5/s*(1/t1+1/125.))),
	} {
		u := uncertaintyOf(t, f, ctx, column)
		near(t, column, u.U/want, 1, 2e-4) // The step is a whole standard uncertainty, over which these formulas bend by so much.
	}
}

// One sensor in two places counts once: gross drive over boost has the barometer above and below, and they go against each
// other; the standard formula for independent parts would give more.
func TestUncertaintyOfASensorInTwoPlaces(t *testing.T) {
	columns, ctx := measured(5)
	ctx.Vehicle.Accuracy = map[string]schema.Accuracy{"baro_kpa": {Half: 1, Coverage: 1}}
	u := uncertaintyOf(t, frame(columns), ctx, "gross_ratio")
	near(t, "effect", u.U, math.Abs(-1./150+282./150/150), 1e-4)
	ctx.Vehicle.Accuracy = map[string]schema.Accuracy{"turbine_in_kpa": {Half: 1, Coverage: 1}}
	u = uncertaintyOf(t, frame(columns), ctx, "drive_ratio")
	near(t, "effect", u.Effects[0].Z, 1./150, 1e-9)
	if len(u.Effects) != 1 || !slices.Equal(u.Exact, []string{"baro_kpa", "map_kpa", "turbine_out_kpa"}) {
		t.Errorf("effects %v, exact %v", u.Effects, u.Exact)
	}
	if u := Uncertainties(frame(columns), ctx, []string{"boost_kpa", "bsfc_g_kwh", "soot_g"}, 2); len(u) != 0 {
		t.Errorf("columns without a sensor of stated accuracy: %+v", u)
	}
}

// A simulation (GUM Supplement 1, JCGM 101:2008): every sensor's error is drawn once for the run, evenly within its bounds or normal where
// they are expanded, the columns are made anew, and the results' standard deviation is that of first order. 4000 trials know it to 1.1 %,
// so that 4 % is 3.6 of its standard deviations.
func TestUncertaintiesAgainstSimulation(t *testing.T) {
	const trials = 4000
	columns, ctx := measured(3)
	judged := []string{"boost_kpa", "net_drive_kpa", "drive_ratio", "exhaust_gauge_kpa", "wheel_power_kw", "torque_nm", "compressor_eff_frac", "lambda_calc_ratio", "bsfc_g_kwh"}
	r := rand.New(rand.NewPCG(21, 22))
	sum, square := make([]float64, len(judged)), make([]float64, len(judged))
	plain := ctx
	vehicle := *ctx.Vehicle
	vehicle.Accuracy, plain.Vehicle = nil, &vehicle
	names := slices.Sorted(func(yield func(string) bool) {
		for n := range columns {
			if !yield(n) {
				return
			}
		}
	})
	for range trials {
		f := frame(columns)
		for _, n := range names {
			a, v := ctx.Vehicle.Accuracy[n], columns[n][0]
			e := a.Standard(v) * r.NormFloat64()
			if a.Coverage == 0 {
				e = math.Sqrt(3) * a.Standard(v) * (2*r.Float64() - 1)
			}
			f.Set(n, constant(3, v+e))
		}
		Columns(f, plain)
		for i, c := range judged {
			v := f.Column(c)[1]
			sum[i], square[i] = sum[i]+v, square[i]+v*v
		}
	}
	for i, c := range judged {
		mean := sum[i] / trials
		u := uncertaintyOf(t, frame(columns), ctx, c)
		near(t, c, math.Sqrt(square[i]/trials-mean*mean)/u.U, 1, 0.04)
	}
}

// What a run states counts as its sensor where none was logged.
func TestUncertaintyOfAStatedBarometer(t *testing.T) {
	columns, ctx := measured(5)
	delete(columns, "baro_kpa")
	ctx.Run.BaroKPa = 98
	near(t, "boost", uncertaintyOf(t, frame(columns), ctx, "boost_kpa").U, math.Hypot(1, 0.3)/math.Sqrt(3), 1e-9)
}

// An inertia dyno's speed in whole km/h keeps its window while it is moved: 0.3 km/h of zero is 0.3 km/h of 105 in power, and 1 % of
// scale 2 % of it.
func TestUncertaintyOfACoarseSpeed(t *testing.T) {
	var clock, v []float64
	for i := range 201 {
		clock, v = append(clock, 0.05*float64(i)), append(v, math.Round(60+9*0.05*float64(i)))
	}
	f := schema.NewFrame(clock)
	f.Set("roller_speed_kmh", v)
	ctx := unstated()
	ctx.Dyno = &schema.Dyno{Kind: "inertia", EquivalentMassKg: 1500}
	for _, c := range []struct {
		a    schema.Accuracy
		want float64 // Of the power.
	}{{schema.Accuracy{Half: 0.3, Coverage: 1}, 0.3 / 105}, {schema.Accuracy{Share: 0.01, Coverage: 1}, 0.02}} {
		ctx.Vehicle = &schema.Vehicle{Accuracy: map[string]schema.Accuracy{"roller_speed_kmh": c.a}}
		u := Uncertainties(f, ctx, []string{"wheel_power_kw"}, 100)
		if len(u) != 1 {
			t.Fatalf("%+v", u)
		}
		near(t, "of the power", u[0].U/u[0].Value, c.want, 0.01*c.want)
	}
}

// Findings tell the uncertainty where the power is highest, once a column, and say what counts as exact; without a stated
// accuracy there are none, and the columns are the same either way.
func TestUncertaintyFindings(t *testing.T) {
	columns, ctx := measured(5)
	columns["roller_force_n"] = []float64{3000, 3100, 3300, 3200, 3000}
	f := frame(columns)
	found := map[string]schema.Finding{}
	for _, x := range Columns(f, ctx) {
		if x.Code == "uncertainty" {
			if _, twice := found[x.Channel]; twice {
				t.Errorf("%s is told twice", x.Channel)
			}
			found[x.Channel] = x
		}
	}
	x := found["drive_ratio"]
	if x.Severity != schema.Note || x.T0S != f.T[2] || !strings.Contains(x.Text, "at the highest wheel_power_kw, 96.25 kW it is 1.667 with a standard uncertainty of 0.011: by first order") || !strings.Contains(x.Text, "turbine_in_kpa 47 %") {
		t.Errorf("%+v", x)
	}
	if x := found["cooler_eff_frac"]; !strings.Contains(x.Text, "ambient_c, charge_c count as exact") {
		t.Errorf("%+v", x)
	}
	for _, name := range Judged() {
		if _, ok := found[name]; ok != f.Has(name) {
			t.Errorf("%s has values %v, an uncertainty %v", name, f.Has(name), ok)
		}
	}
	other := frame(columns)
	ctx.Vehicle.Accuracy = nil
	if got := codes(Columns(other, ctx)); slices.Contains(got, "uncertainty") {
		t.Errorf("without an accuracy: findings %v", got)
	}
	for _, name := range f.Names() {
		want(t, other, map[string][]float64{name: f.Column(name)})
	}
}

// Without power the highest boost says where; without either nothing is said, and an empty run is none.
func TestUncertaintyWithoutPower(t *testing.T) {
	ctx := unstated()
	ctx.Vehicle = &schema.Vehicle{Accuracy: map[string]schema.Accuracy{"map_kpa": {Half: 1}}}
	f := frame(map[string][]float64{"map_kpa": {nan, 150, 210, 180}, "baro_kpa": constant(4, 100)})
	got := Columns(f, ctx)
	if len(got) == 0 || got[0].Channel != "boost_kpa" || got[0].T0S != f.T[2] || !strings.Contains(got[0].Text, "at the highest boost_kpa, 110 kPa") || !strings.Contains(got[0].Text, "baro_kpa count as exact") {
		t.Errorf("findings %+v", got)
	}
	f = frame(map[string][]float64{"map_kpa": {150, 160}})
	if got := codes(Columns(f, ctx)); slices.Contains(got, "uncertainty") {
		t.Errorf("without boost: findings %v", got)
	}
	if got := Columns(schema.NewFrame(nil), ctx); len(got) != 0 {
		t.Errorf("an empty run: findings %v", got)
	}
}

// The first and the last row have an uncertainty as any other.
func TestUncertaintyAtTheEnds(t *testing.T) {
	columns, ctx := measured(5)
	for _, row := range []int{0, 4} {
		if u := Uncertainties(frame(columns), ctx, []string{"boost_kpa"}, row); len(u) != 1 || !(u[0].U > 0) {
			t.Errorf("row %d: %+v", row, u)
		}
	}
}
