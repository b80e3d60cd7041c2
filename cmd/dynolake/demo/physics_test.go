package demo

import (
	"math"
	"testing"

	"dynolake/schema"
)

// one gives a plan of a vehicle, the last calibration unless said.
func one(t testing.TB, vehicle, kind string, step int) plan {
	t.Helper()
	for _, p := range Default().plans() {
		if p.v.id == vehicle && p.kind == kind && (step < 0 || p.step == step) {
			return p
		}
	}
	t.Fatalf("no %s run of %s with calibration %d is planned", kind, vehicle, step)
	return plan{}
}

func near(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > share*math.Abs(want) {
		t.Errorf("%s: got %.6g, want %.6g within %.3g %%", what, got, want, 100*share)
	}
}

// 3 L at 2800 1/min, 300 kPa, 348.15 K and 0.9: 189.12 g/s. The inputs are the mass-flow example of 40 CFR 1065.602.
func TestAirIsSpeedDensity(t *testing.T) {
	v := van("x", "outlet", 1)
	v.engine.breathing = 0.9
	s := slow{boost: 200, charge: 348.15, pipe: 700}
	g := v.burn(&s, day{baro: 100, ambient: 25}, step{torque: 1, boost: 1, lambda: 1.1}, 2800, 1, math.NaN(), 1)
	near(t, "air flow", g.air*1000, 189.12, 0.0002)
	near(t, "λ", g.lambda, g.air/(g.fuel*14.5), 1e-9)
}

// p_in from the ellipse law, its inverse, and the limit of no flow.
func TestNozzle(t *testing.T) {
	g := gas{tIn: 900, turbineOut: 100}
	near(t, "p before an area that 30 kPa·√ drives", nozzle(&g, 0.15, 0.15*math.Sqrt(900)/75), 125, 1e-12) // 100² + 75² = 125².
	near(t, "no flow", nozzle(&g, 0, 0.02), 100, 1e-12)
	// 973.15 K over 2.2: with γ = 4/3 the isentropic drop is 1 − 2.2^(−1/4).
	near(t, "drop", drop(2.2), 1-math.Pow(2.2, -0.25), 1e-12)
}

// Work at the roller is kinetic energy gained and friction overcome, 40 CFR 1066.250; on the road with the road load.
func TestEnergyIsKept(t *testing.T) {
	m := Default()
	for _, c := range []struct{ vehicle, kind string }{{"invented-car-a", "sweep"}, {"invented-car-a", "road"}} {
		p := one(t, c.vehicle, c.kind, 3)
		mass, loss := p.v.bench.mass, p.v.bench.friction
		if c.kind == "road" {
			mass, loss = p.v.drive.mass, p.v.drive.road
		}
		tr := m.run(p, true, nil)
		for _, s := range tr.pulls {
			work, lost := 0.0, 0.0
			for i := s.from; i < s.to-1; i++ {
				a, b := tr.rows[i], tr.rows[i+1]
				work += (a[atPower] + b[atPower]) / 2 * 1000 * tr.dt
				v := (a[index("roller_speed_kmh")] + b[index("roller_speed_kmh")]) / 2 / 3.6
				k := v * 3.6
				lost += (loss[0] + loss[1]*k + loss[2]*k*k) * v * tr.dt
			}
			v0, v1 := tr.rows[s.from][index("roller_speed_kmh")]/3.6, tr.rows[s.to-1][index("roller_speed_kmh")]/3.6
			near(t, c.kind+" work", work, mass*(v1*v1-v0*v0)/2+lost, 0.001)
		}
	}
}

// A brake dyno's force, with the rollers' own inertia, is the power at the wheels.
func TestBrakeForceAndInertiaGivePower(t *testing.T) {
	p := one(t, "invented-van-c", "sweep", 3)
	tr := Default().run(p, true, nil)
	force, roller := index("roller_force_n"), index("roller_speed_kmh")
	s := tr.pulls[1]
	for i := s.from + 1; i < s.to-1; i++ {
		r := tr.rows[i]
		a := (tr.rows[i+1][roller] - tr.rows[i-1][roller]) / 3.6 / (2 * tr.dt)
		near(t, "power", (r[force]+p.v.bench.mass*a)*r[roller]/3600, r[atPower], 0.005)
	}
}

func TestEverySignalIsPlausible(t *testing.T) {
	for _, p := range []plan{
		one(t, "invented-car-a", "sweep", 3), one(t, "invented-car-b", "road", 3), one(t, "invented-van-c", "road", 3), one(t, "invented-van-d", "sweep", 3),
		one(t, "invented-truck-e", "sweep", 3), one(t, "invented-truck-f", "steps", -1), one(t, "invented-truck-f", "coast", -1), one(t, "invented-van-c", "steps", -1),
	} {
		tr := Default().run(p, false, nil)
		lowest, highest := tr.rows[0], tr.rows[0]
		for _, r := range tr.rows {
			for k, v := range r {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%s: %s is %v", p.name(), signals[k], v)
				}
				lowest[k], highest[k] = min(lowest[k], v), max(highest[k], v)
			}
		}
		for k, name := range signals {
			c, ok := schema.Lookup(name)
			if !ok {
				t.Fatalf("%s is no column of the catalogue", name)
			}
			if !c.Plausible(lowest[k]) || !c.Plausible(highest[k]) {
				t.Errorf("%s: %s runs from %.4g to %.4g, outside %v", p.name(), name, lowest[k], highest[k], c.Range)
			}
		}
	}
}

// Power, torque and λ of every row follow from each other; 9549.297 = 60000/2π.
func TestRowsAgreeWithThemselves(t *testing.T) {
	tr := Default().run(one(t, "invented-truck-f", "sweep", 2), true, nil)
	maf, fuel := index("maf_g_s"), index("fuel_kg_h")
	for _, s := range tr.pulls {
		for i := s.from; i < s.to; i++ {
			r := tr.rows[i]
			near(t, "power", r[atTorque]*r[atSpeed]*2*math.Pi/60000, r[atPower], 1e-7)
			near(t, "λ", r[maf]*3.6/(r[fuel]*14.5), r[atLambda], 1e-9)
		}
	}
}

// A recorder sees the engine stopped and idling at both ends, with every pressure at barometric.
func TestLogsBeginAndEndAtRest(t *testing.T) {
	for _, p := range Default().plans()[:12] {
		tr := Default().run(p, false, nil)
		first, last := tr.rows[100], tr.rows[len(tr.rows)-1]
		if first[atSpeed] != 0 {
			t.Errorf("%s: engine speed at the beginning is %.0f", p.name(), first[atSpeed])
		}
		near(t, p.name()+" idle", last[atSpeed], p.v.engine.idle, 0.03)
		for _, r := range []row{first, last} {
			for _, k := range []int{atMap, atIn, atOut} {
				if math.Abs(r[k]-r[atBaro]) > 3 {
					t.Errorf("%s: %s at rest is %.2f at %.2f barometric", p.name(), signals[k], r[k], r[atBaro])
				}
			}
		}
	}
}

func BenchmarkRun(b *testing.B) {
	p := one(b, "invented-car-b", "sweep", 1)
	var rows []row
	for b.Loop() {
		rows = Default().run(p, true, rows).rows
	}
}

func TestPedalAndLoadAreInverse(t *testing.T) {
	for p := 0.0; p <= 100; p += 12.5 {
		near(t, "pedal", pedalFor(asked(p)), p, 1e-9)
	}
	if asked(100) != 1 || asked(0) != 0 || asked(130) != 1 {
		t.Errorf("load at no, full and more than full pedal: %v, %v, %v", asked(0), asked(100), asked(130))
	}
}
