package derive

import (
	"math"
	"testing"

	"dynolake/schema"
)

// coastOf makes a coastdown from v1 to v2 against a + b v + c v², by small steps of time, logged at a rate.
func coastOf(mass, a, b, c, v1, v2, hz float64) (t, kmh []float64) {
	const dt = 1e-3
	v, every := v1, int(1/(hz*dt))
	for k := 0; v > v2; k++ {
		if k%every == 0 {
			t, kmh = append(t, float64(k)*dt), append(kmh, v)
		}
		half := v - 3.6*dt/2*(a+b*v+c*v*v)/mass
		v -= 3.6 * dt * (a + b*half + c*half*half) / mass
	}
	return t, kmh
}

// 40 CFR 86.529-98 tabulates, by mass, A in N and C in N/(km/h)² with the force at 65 km/h and the time from 70 to 60 km/h: a fit of that
// coastdown gives the force back, within the table's rounding of 0.3 N.
func TestRoadLoadOfTheTable(t *testing.T) {
	for _, r := range []struct{ mass, a, c, f65, time float64 }{
		{100, 0, .0224, 94.8, 2.95}, {150, 4.32, .0238, 104.9, 3.99}, {200, 8.69, .0252, 115.1, 4.85},
		{250, 13.06, .0266, 125.3, 5.57}, {300, 17.43, .0279, 135.4, 6.18}, {340, 20.92, .0290, 143.6, 6.60},
	} {
		times, kmh := coastOf(r.mass, r.a, 0, r.c, 110, 20, 50)
		near(t, "time", timeBetween(times, kmh, 70, 60), r.time, 0.03)
		v, f := CoastForces(times, kmh, r.mass)
		fit := FitRoadLoad(v, f)
		near(t, "F65", fit[0].Value+65*fit[1].Value+65*65*fit[2].Value, r.f65, 0.5)
		near(t, "C", fit[2].Value, r.c, 0.02*r.c)
	}
}

func timeBetween(t, kmh []float64, from, to float64) float64 {
	at := func(v float64) float64 {
		for i := range kmh {
			if kmh[i] <= v {
				return t[i-1] + (t[i]-t[i-1])*(kmh[i-1]-v)/(kmh[i-1]-kmh[i])
			}
		}
		return math.NaN()
	}
	return at(to) - at(from)
}

func coastRun(hz, noise float64, rpm func(kmh float64) float64) (*schema.Frame, []schema.Segment) {
	times, kmh := coastOf(2060, 180, 1.1, 0.045, 120, 20, hz)
	seed := uint32(1)
	n := make([]float64, len(kmh))
	for i := range kmh {
		n[i] = rpm(kmh[i])
		seed = seed*1664525 + 1013904223
		kmh[i] += noise * (float64(seed>>8)/(1<<24) - 0.5)
	}
	f := schema.NewFrame(times)
	f.Set("vehicle_speed_kmh", kmh)
	f.Set("engine_speed_rpm", n)
	return f, []schema.Segment{{Kind: "coast", T0S: 0, T1S: times[len(times)-1], Row1: len(times) - 1}}
}

func idle(float64) float64 { return 820 }

func TestCoastdownFindings(t *testing.T) {
	vehicle := &schema.Vehicle{MassKg: 2000, RoadLoad: []float64{180, 1.1, 0.045}}
	f, segments := coastRun(10, 0.3, idle)
	found := byCode(Coastdown(f, segments, Context{Run: schema.Run{Test: "coast"}, Vehicle: vehicle}))
	near(t, "force at 70 km/h", found["coastdown_fit"].Value, 180+1.1*70+0.045*70*70, 6)
	for _, code := range []string{"coastdown_a", "coastdown_b", "coastdown_c"} {
		if v := found[code]; v.Unit == "" || math.IsNaN(v.Value) || v.T1S <= v.T0S {
			t.Errorf("%s: %+v", code, v)
		}
	}
	for _, code := range []string{"road_load_disagrees", "coastdown_in_gear", "coastdown_short"} {
		if _, ok := found[code]; ok {
			t.Errorf("%s was found in a plain coastdown", code)
		}
	}
	vehicle.RoadLoad = []float64{300, 1.1, 0.08}
	if found := byCode(Coastdown(f, segments, Context{Run: schema.Run{Test: "coast"}, Vehicle: vehicle})); found["road_load_disagrees"].Severity != schema.Doubt {
		t.Error("a road load that is a third off was not doubted")
	}
	f, segments = coastRun(10, 0, func(v float64) float64 { return 25 * v })
	if found := byCode(Coastdown(f, segments, Context{Run: schema.Run{Test: "coast"}, Vehicle: vehicle})); found["coastdown_in_gear"].Severity != schema.Doubt {
		t.Error("an engaged gear was not doubted")
	}
}

func TestCoastdownIsRefused(t *testing.T) {
	f, segments := coastRun(10, 0, idle)
	vehicle := &schema.Vehicle{MassKg: 2000}
	for name, c := range map[string]struct {
		ctx      Context
		segments []schema.Segment
		want     string
	}{
		"another test":   {Context{Run: schema.Run{Test: "road"}, Vehicle: vehicle}, segments, ""},
		"no mass":        {Context{Run: schema.Run{Test: "coast"}}, segments, "coastdown_mass_missing"},
		"no roller mass": {Context{Run: schema.Run{Test: "coast", DynoKind: "inertia"}, Vehicle: vehicle}, segments, "coastdown_mass_missing"},
		"nothing coasts": {Context{Run: schema.Run{Test: "coast"}, Vehicle: vehicle}, nil, "coastdown_missing"},
		"short":          {Context{Run: schema.Run{Test: "coast"}, Vehicle: vehicle}, []schema.Segment{{Kind: "coast", Row1: 40}}, "coastdown_short"},
	} {
		found := Coastdown(f, c.segments, c.ctx)
		if c.want == "" && len(found) > 0 || c.want != "" && (len(found) != 1 || found[0].Code != c.want) {
			t.Errorf("%s: %+v, want %q", name, found, c.want)
		}
	}
}

// 40 CFR 1037.528(h)(1): 16 108 kg on 18 tyres count as 17 128.6 kg.
func TestCoastdownCountsTyres(t *testing.T) {
	w := &work{Context: Context{Vehicle: &schema.Vehicle{MassKg: 16108, Tyres: 18}, Dyno: &schema.Dyno{}}}
	got, _ := w.rollingMass()
	near(t, "effective mass", got, 17128.6, 0.05)
}

// The interval of each coefficient covers the truth about as often as it says: 400 coastdowns with noise of the points.
func TestRoadLoadIntervalsCover(t *testing.T) {
	const trials = 400
	truth := [3]float64{180, 1.1, 0.045}
	covered, seed := [3]int{}, uint64(7)
	uniform := func() float64 {
		seed = seed*6364136223846793005 + 1442695040888963407
		return float64(seed>>11) / (1 << 53)
	}
	for range trials {
		var v, f []float64
		for k := 0.0; k < 18; k++ {
			x := 115 - 5*k
			v = append(v, x)
			f = append(f, truth[0]+truth[1]*x+truth[2]*x*x+12*math.Sqrt(-2*math.Log(1-uniform()))*math.Cos(2*math.Pi*uniform()))
		}
		for k, e := range FitRoadLoad(v, f) {
			if e.Interval(0.95).Holds(truth[k]) {
				covered[k]++
			}
		}
	}
	for k, n := range covered { // Binomial: 0.95 of 400 within 3.3 standard deviations, 4.36.
		if math.Abs(float64(n)-0.95*trials) > 3.3*4.36 {
			t.Errorf("coefficient %d: %d of %d intervals hold the truth", k, n, trials)
		}
	}
	if e := FitRoadLoad([]float64{10, 20}, []float64{1, 2}); !math.IsNaN(e[0].Value) {
		t.Errorf("two points gave %+v", e)
	}
	if e := FitRoadLoad(nil, nil); !math.IsNaN(e[2].Value) {
		t.Errorf("no point gave %+v", e)
	}
}

// A coastdown that ends with the brake shows the road's load alone.
func TestCoastdownEndsAtTheBrake(t *testing.T) {
	times, kmh := coastOf(2060, 180, 1.1, 0.045, 120, 35, 10)
	for last := times[len(times)-1]; kmh[len(kmh)-1] > 4; {
		last += 0.1
		times, kmh = append(times, last), append(kmh, kmh[len(kmh)-1]-0.8)
	}
	f := schema.NewFrame(times)
	f.Set("vehicle_speed_kmh", kmh)
	found := byCode(Coastdown(f, []schema.Segment{{Kind: "coast", Row1: len(times) - 1}}, Context{Run: schema.Run{Test: "coast"}, Vehicle: &schema.Vehicle{MassKg: 2000}}))
	near(t, "A", found["coastdown_a"].Value, 180, 9)
	near(t, "C", found["coastdown_c"].Value, 0.045, 0.002)
	if n := BeforeBrake([]float64{500, 400, 350, 900, 2000}); n != 2 {
		t.Errorf("%d steps before the brake, want 2", n)
	}
}
