package segment_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"dynolake/schema"
)

// A small kinematic model that makes runs with known shifts, lock-ups and pulls. It steps at 1 ms; recorder makes logs of it.

var nan = math.NaN()

const simStep = 0.001

// car is an invented vehicle.
type car struct {
	name     string
	duty     string
	ratios   []float64
	final    float64
	radius   float64 // m.
	mass     float64 // kg.
	idle     float64
	rated    float64
	power    func(rpm float64) float64 // Full-load wheel power, kW.
	auto     bool
	shiftFor float64 // s.
}

func bell(peak, at, width float64) func(float64) float64 {
	return func(n float64) float64 { u := (n - at) / width; return peak * math.Exp(-u*u) }
}

var (
	lightAuto = car{name: "light-auto", duty: "light", ratios: []float64{4.7, 3.1, 2.1, 1.67, 1.29, 1.0, 0.84, 0.67}, final: 3.15, radius: 0.34, mass: 2100,
		idle: 750, rated: 4000, power: bell(150, 3800, 2300), auto: true, shiftFor: 0.4}
	lightManual = car{name: "light-manual", duty: "light", ratios: []float64{3.8, 2.1, 1.3, 0.95, 0.75, 0.62}, final: 3.6, radius: 0.31, mass: 1500,
		idle: 820, rated: 4000, power: bell(95, 3700, 2200), shiftFor: 0.8}
	heavyAuto = car{name: "heavy-auto", duty: "heavy", ratios: []float64{3.5, 1.9, 1.43, 1.0, 0.75, 0.64}, final: 4.1, radius: 0.5, mass: 12000,
		idle: 620, rated: 2200, power: bell(210, 2100, 1200), auto: true, shiftFor: 0.7}
	heavyManual = car{name: "heavy-manual", duty: "heavy", ratios: []float64{11.7, 9.2, 7.1, 5.6, 4.4, 3.5, 2.7, 2.1, 1.6, 1.3, 1.0, 0.78}, final: 2.8, radius: 0.5, mass: 30000,
		idle: 600, rated: 2100, power: bell(330, 1900, 1100), shiftFor: 1.0}
	mediumManual = car{name: "medium-manual", duty: "heavy", ratios: []float64{6.7, 3.8, 2.3, 1.5, 1.0, 0.78}, final: 4.5, radius: 0.48, mass: 12000,
		idle: 650, rated: 2500, power: bell(180, 2300, 1500), shiftFor: 1.1}
	cars = []car{lightAuto, lightManual, heavyAuto, heavyManual}
)

func (c car) vehicle() *schema.Vehicle {
	return &schema.Vehicle{ID: c.name, Duty: c.duty, RatedSpeedRPM: c.rated, GearRatios: c.ratios, FinalDrive: c.final, RollingRadiusM: c.radius}
}

func (c car) geared(g int, v float64) float64 { // rpm at v km/h.
	return c.ratios[g-1] * c.final * v / 3.6 / c.radius * 60 / (2 * math.Pi)
}

type truth struct {
	kind     string // shift, lockup, pull.
	from, to int
	t0, t1   float64
	rpm      float64 // A shift's engine speed; what a pull rises by.
	start    float64 // A pull's first engine speed.
}

// drive is a run under way: its state, its finely stepped signals and what truly happened.
type drive struct {
	c                                      car
	gear                                   int
	v, rpm, pedal, slip                    float64 // slip: engine speed over geared speed, less 1.
	locked                                 bool
	t                                      []float64
	n, speed, ped, gr, lock, power, torque []float64
	truths                                 []truth
}

func newDrive(c car) *drive { return &drive{c: c, gear: 1, rpm: c.idle} }

func (d *drive) now() float64 { return float64(len(d.t)) * simStep }

func (d *drive) put(kw float64) {
	d.t = append(d.t, d.now())
	d.n, d.speed, d.ped = append(d.n, d.rpm), append(d.speed, d.v), append(d.ped, d.pedal)
	d.gr = append(d.gr, float64(d.gear))
	l := 0.0
	if d.locked {
		l = 1
	}
	d.lock, d.power, d.torque = append(d.lock, l), append(d.power, kw), append(d.torque, kw*9549.297/max(d.rpm, 1))
}

func (d *drive) hold(seconds float64, step func(u float64)) {
	n := int(seconds / simStep)
	for i := range n {
		step(float64(i) / float64(n))
		d.put(0)
	}
}

func (d *drive) idle(seconds float64) {
	d.v, d.pedal = 0, 0
	d.hold(seconds, func(float64) { d.rpm += (d.c.idle - d.rpm) * 0.003 })
}

// follow sets the engine speed that the road speed asks for; launching engines flare above it.
func (d *drive) follow() {
	d.rpm = d.c.geared(d.gear, d.v) * (1 + d.slip)
	if low := d.c.idle * (1.05 + d.pedal/100); d.gear == 1 && d.rpm < low && d.v < 25 {
		d.rpm = low
	}
}

// accelerate presses the pedal until an engine speed is reached. On rollers it is the same with the mass they stand for.
func (d *drive) accelerate(pedal, until float64) {
	start, t0 := d.rpm, d.now()
	for d.rpm < until {
		d.pedal += max(min(pedal-d.pedal, 0.4), -0.4)
		since := d.now() - t0
		kw := d.c.power(d.rpm) * d.pedal / 100 * (1 - 0.7*math.Exp(-since/0.5))
		force := min(kw*1000/max(d.v/3.6, 2), d.c.mass*map[string]float64{"light": 4, "heavy": 1.2}[d.c.duty])
		d.v += (force/d.c.mass - 0.1 - 0.00002*d.v*d.v) * 3.6 * simStep
		d.follow()
		d.put(kw)
		if since > 200 {
			panic("the model does not reach its engine speed")
		}
	}
	if pedal > 90 {
		d.truths = append(d.truths, truth{kind: "pull", from: d.gear, t0: t0, t1: d.now(), rpm: d.rpm - start, start: start})
	}
}

// shift changes gear: an automatic under power, a manual with a lifted foot and an open clutch that lets the speed undershoot.
func (d *drive) shift(to int) {
	from, up := d.gear, to > d.gear
	d.truths = append(d.truths, truth{kind: "shift", from: from, to: to, t0: d.now(), rpm: d.rpm})
	start, foot := d.rpm, d.pedal
	d.hold(d.c.shiftFor, func(u float64) {
		if u >= 0.5 {
			d.gear = to
		}
		d.v += map[bool]float64{true: 0.6, false: -0.4}[d.c.auto] * simStep
		end := d.c.geared(to, d.v) * (1 + d.slip)
		d.rpm = start + (end-start)*(1-math.Cos(math.Pi*u))/2
		if !d.c.auto {
			d.pedal = foot * max(0, 1-2*math.Sin(math.Pi*u))
			if up {
				d.rpm -= 0.08 * start * math.Pow(math.Sin(math.Pi*u), 2) * u
			}
		}
	})
	d.truths[len(d.truths)-1].t1 = d.now()
	d.pedal = foot
	d.follow()
}

// lockUp closes the converter: the engine speed falls by its slip.
func (d *drive) lockUp() {
	d.truths = append(d.truths, truth{kind: "lockup", from: d.gear, t0: d.now(), rpm: d.rpm})
	slip := d.slip
	d.locked = true
	d.hold(0.4, func(u float64) {
		d.slip = slip * (1 + math.Cos(math.Pi*u)) / 2
		d.v += 1.0 * simStep
		d.follow()
	})
	d.slip = 0
}

// coast rolls with a lifted foot, in gear, until an engine speed; decel in km/h/s.
func (d *drive) coast(until, decel float64) {
	for d.rpm > until && d.v > 1 {
		d.pedal = max(0, d.pedal-0.4)
		d.v -= decel * simStep
		d.follow()
		d.put(-5)
	}
}

// stop brakes to a stand with the clutch open below 1.3 times idle.
func (d *drive) stop(decel float64) {
	for d.v > 0.2 {
		d.pedal = 0
		d.v -= decel * simStep
		if d.follow(); d.rpm < 1.3*d.c.idle {
			break
		}
		d.put(-5)
	}
	for d.v > 0 {
		d.v = max(0, d.v-decel*simStep)
		d.rpm += (d.c.idle - d.rpm) * 0.003
		d.put(0)
	}
	d.gear, d.locked = 1, false
}

// cruise holds the speed.
func (d *drive) cruise(seconds, pedal float64) {
	d.hold(seconds, func(float64) { d.pedal += max(min(pedal-d.pedal, 0.2), -0.2); d.follow() })
}

// recorder is how a log is taken.
type recorder struct {
	rate               float64
	noise              float64 // Of engine speed and power, relative; a quarter of it on road speed.
	rpmStep, speedStep float64 // Quantisation.
	pedalStep          float64
	gearLag            float64 // Above 0 the gear is shown late, below 0 early.
	gearVia            float64 // What the gear shows for 0.4 s in a shift: NaN, 0, or a flicker between the two for 99.
	slow               float64 // Engine speed is logged at this rate and drawn onto the log's clock; 0: at its own.
	seed               uint64
	offset             float64
	drop               []string
	gap                [2]float64 // Nothing but the clock is logged in between.
}

func round(x, step float64) float64 {
	if step == 0 {
		return x
	}
	return math.Round(x/step) * step
}

func (d *drive) record(r recorder) *schema.Frame {
	rnd := rand.New(rand.NewPCG(r.seed, 7))
	var t []float64
	for i := 0; float64(i)/r.rate < d.now()-0.01; i++ {
		t = append(t, float64(i)/r.rate+r.offset)
	}
	f := schema.NewFrame(t)
	at := func(i int) int { return min(int((t[i]-r.offset)/simStep+0.5), len(d.t)-1) }
	set := func(name string, value func(k int) float64) {
		x := make([]float64, len(t))
		for i := range x {
			if x[i] = value(at(i)); t[i]-r.offset > r.gap[0] && t[i]-r.offset < r.gap[1] {
				x[i] = nan
			}
		}
		if !slices.Contains(r.drop, name) {
			f.Set(name, x)
		}
	}
	set("engine_speed_rpm", func(k int) float64 { return round(d.n[k]*(1+r.noise*rnd.NormFloat64()), r.rpmStep) })
	if r.slow > 0 {
		x := f.Column("engine_speed_rpm")
		stride := int(r.rate / r.slow)
		for i := range x {
			if a := i / stride * stride; a+stride < len(x) {
				x[i] = x[a] + (x[a+stride]-x[a])*float64(i-a)/float64(stride)
			}
		}
	}
	set("vehicle_speed_kmh", func(k int) float64 { return max(0, round(d.speed[k]*(1+r.noise/4*rnd.NormFloat64()), r.speedStep)) })
	set("pedal_pct", func(k int) float64 {
		return min(100, max(0, round(d.ped[k]+100*r.noise/2*rnd.NormFloat64(), r.pedalStep)))
	})
	set("gear", func(k int) float64 {
		now := float64(k)*simStep - r.gearLag
		for _, y := range d.truths {
			if mid := (y.t0 + y.t1) / 2; y.kind == "shift" && math.Abs(now-mid) < 0.2 && r.gearVia != 0.5 {
				if r.gearVia == 99 {
					return float64([]int{y.from, y.to}[int(now*1000)/90&1])
				}
				return r.gearVia
			}
		}
		return d.gr[min(max(int(now/simStep), 0), len(d.gr)-1)]
	})
	set("converter_locked_frac", func(k int) float64 { return d.lock[k] })
	set("wheel_power_kw", func(k int) float64 { return d.power[k] + d.c.power(d.c.rated)*r.noise*rnd.NormFloat64() })
	set("torque_nm", func(k int) float64 { return d.torque[k] * (1 + r.noise*rnd.NormFloat64()) })
	set("coolant_c", func(int) float64 { return 90 })
	return f
}

// climb drives up through the gears at one pedal and shift speed, as a road or multi-gear dyno run does.
func climb(c car, pedal, at float64, gears int) *drive {
	d := newDrive(c)
	d.idle(4)
	if c.auto {
		d.slip = 0.08
	}
	for g := 1; g < gears; g++ {
		d.accelerate(pedal, at)
		d.shift(g + 1)
	}
	if c.auto {
		d.accelerate(pedal, d.rpm*1.12)
		d.lockUp()
	}
	d.accelerate(pedal, at)
	return d
}

func (d *drive) of(kind string) []truth {
	var out []truth
	for _, y := range d.truths {
		if y.kind == kind {
			out = append(out, y)
		}
	}
	return out
}

func kinds(segments []schema.Segment, kind string) []schema.Segment {
	var out []schema.Segment
	for _, s := range segments {
		if s.Kind == kind {
			out = append(out, s)
		}
	}
	return out
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > tol {
		t.Errorf("%s = %.6g, want %.6g ± %g", what, got, want, tol)
	}
}
