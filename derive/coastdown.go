package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// How a coastdown is taken apart (common practice, no source).
const (
	coastStep   = 5.0  // km/h. The least step of speed whose deceleration is one point of the fit,
	coastSteps  = 15.0 // or so many steps for a coastdown.
	coastSpan   = 25.0 // km/h that all coastdowns together must cover, and
	coastPoints = 6    // points that they must give.
	coastRows   = 4    // Rows in a step.
	coastInGear = 0.05 // Scatter of engine over road speed below which a gear is engaged.
	coastBrake  = 1.4  // Times the least force so far: as road load falls with the speed, more than this is a brake, at whose onset a coastdown ends.
	roadApart   = 0.10 // What stated and found road load may be apart by.
)

// CoastForces are the forces in N that slow an effective mass in kg, at speeds in km/h, from a coastdown's speeds in km/h at times in s: -M dv/dt of the
// straight line through each step of speed (40 CFR 1066.310 and 1037.528 take a coastdown's force from its mass and deceleration), on a
// level road. Both are empty where the speed does not fall by a step.
func CoastForces(t, kmh []float64, mass float64) (speeds, newtons []float64) {
	q := stats.Quantiles(kmh, 0, 1)
	step := max(coastStep, (q[1]-q[0])/coastSteps)
	for from := 0; from < len(t); {
		if math.IsNaN(kmh[from]) {
			from++
			continue
		}
		to := from
		for to < len(t) && !(kmh[to] <= kmh[from]-step) {
			to++
		}
		if to == len(t) {
			break
		}
		if to-from >= coastRows {
			line := stats.FitLine(t[from:to+1], kmh[from:to+1])
			speeds = append(speeds, stats.Mean(kmh[from:to+1]))
			newtons = append(newtons, -InertiaForce(mass, line.Slope.Value/3.6))
		}
		from = to
	}
	return speeds, newtons
}

// BeforeBrake cuts a coastdown's forces, in N from the highest speed down, where a brake is put on: from the step before the first force that is 1.4 times the least
// before it (common practice, no source). The count of steps that are left.
func BeforeBrake(newtons []float64) int {
	least := math.Inf(1)
	for i, f := range newtons {
		if f > coastBrake*least && least > 0 {
			return max(0, i-1)
		}
		least = min(least, f)
	}
	return len(newtons)
}

// FitRoadLoad fits F = A + B v + C v² by least squares to forces in N at speeds in km/h: N, N/(km/h), N/(km/h)², each with its standard error
// (40 CFR 1066.310; the scatter of the points is taken as independent). NaN with fewer than three points.
func FitRoadLoad(speeds, newtons []float64) [3]stats.Estimate {
	fit := stats.Regress(newtons, stats.Powers(speeds, 2)...)
	return [3]stats.Estimate(fit.Coefficients)
}

// rollingMass is what slows down in a coastdown, kg, and of what it is made; NaN where not stated.
func (w *work) rollingMass() (float64, string) {
	v := w.Vehicle
	switch {
	case w.Dyno.Kind == "inertia" || w.Dyno.Kind == "brake":
		if !(w.Dyno.EquivalentMassKg > 0) {
			return math.NaN(), "the dyno's equivalent_mass in dynos.yaml"
		}
		m := w.Dyno.EquivalentMassKg + RotatingShare*v.MassKg
		return m, fmt.Sprintf("the roller's %.5g kg and %.0f %% of the vehicle's mass for its turning wheels", w.Dyno.EquivalentMassKg, 100*RotatingShare)
	case !(v.MassKg > 0):
		return math.NaN(), "the vehicle's mass in vehicles.yaml"
	case v.Tyres > 0:
		return EffectiveMass(v.MassKg, v.Tyres), fmt.Sprintf("%.5g kg and %g kg for each of %d tyres", v.MassKg, TyreMass, v.Tyres)
	}
	return v.MassKg * (1 + RotatingShare), fmt.Sprintf("%.5g kg and %.0f %% for turning parts", v.MassKg, 100*RotatingShare)
}

// Coastdown fits the road load to the coast segments of a coast run, and says what it found: each coefficient with its interval, and how the
// vehicle's entry would state it. Nothing is changed: the road load of vehicles.yaml alone is used. The road is taken as level and the air as calm; a
// run each way, in one log, averages both out.
func Coastdown(f *schema.Frame, segments []schema.Segment, ctx Context) []schema.Finding {
	if ctx.Run.Test != "coast" {
		return nil
	}
	if ctx.Vehicle == nil {
		ctx.Vehicle = &schema.Vehicle{}
	}
	if ctx.Dyno == nil {
		ctx.Dyno = &schema.Dyno{Kind: ctx.Run.DynoKind}
	}
	w := &work{Frame: f, Context: ctx, period: period(f.T)}
	onDyno := w.Dyno.Kind == "inertia" || w.Dyno.Kind == "brake"
	order := []string{"vehicle_speed_kmh", "roller_speed_kmh"}
	if onDyno {
		order = []string{"roller_speed_kmh", "vehicle_speed_kmh"}
	}
	_, name := w.of(order...)
	mass, made := w.rollingMass()
	if name == "" || math.IsNaN(mass) {
		if name != "" {
			w.find(schema.Note, "coastdown_mass_missing", name, "the coastdown is not fitted: add "+made, math.NaN(), "kg")
		}
		return w.findings
	}
	c := w.coasts(segments, name, mass)
	switch {
	case c.n == 0:
		w.find(schema.Doubt, "coastdown_missing", name, "the run is said to be a coastdown, and nothing of it coasts: it needs the speed falling with the pedal up, for two seconds at the least", math.NaN(), "")
	case len(c.speeds) < coastPoints || c.high-c.low < coastSpan:
		span := max(0, c.high-c.low)
		w.find(schema.Note, "coastdown_short", name, fmt.Sprintf("the coastdown is not fitted: it covers %.0f km/h in %d steps, and %g km/h in %d steps are needed", span, len(c.speeds), coastSpan, coastPoints), span, "km/h")
	default:
		w.tellCoastdown(c, name, made, onDyno)
	}
	return w.findings
}

// coasted is what all coastdowns of a run show.
type coasted struct {
	speeds, newtons []float64
	low, high       float64 // km/h.
	t0, t1          float64
	n, geared       int
}

func (w *work) coasts(segments []schema.Segment, name string, mass float64) coasted {
	c := coasted{low: math.Inf(1), high: math.Inf(-1), t0: math.NaN()}
	x, rpm := w.Column(name), w.Column("engine_speed_rpm")
	for _, s := range segments {
		if s.Kind != "coast" {
			continue
		}
		if c.n++; c.n == 1 {
			c.t0 = s.T0S
		}
		c.t1 = s.T1S
		v, n := CoastForces(w.T[s.Row0:s.Row1+1], x[s.Row0:s.Row1+1], mass)
		free := BeforeBrake(n)
		c.speeds, c.newtons = append(c.speeds, v[:free]...), append(c.newtons, n[:free]...)
		for _, v := range v[:free] {
			c.low, c.high = min(c.low, v), max(c.high, v)
		}
		if rpm != nil && inGear(rpm[s.Row0:s.Row1+1], x[s.Row0:s.Row1+1]) {
			c.geared++
		}
	}
	return c
}

// inGear reports whether engine and road speed keep one ratio while the road speed falls.
func inGear(rpm, kmh []float64) bool {
	ratio := make([]float64, len(rpm))
	for i := range rpm {
		if ratio[i] = math.NaN(); kmh[i] >= minSpeed && rpm[i] > MinEngineSpeed {
			ratio[i] = rpm[i] / kmh[i]
		}
	}
	q, v := stats.Quantiles(ratio, 0.1, 0.5, 0.9), stats.Quantiles(kmh, 0.1, 0.9)
	return q[2]-q[0] < coastInGear*q[1] && v[1] > 1.15*v[0]
}

func (w *work) tellCoastdown(c coasted, name, made string, onDyno bool) {
	fit := FitRoadLoad(c.speeds, c.newtons)
	texts := make([]string, 3)
	for k, unit := range []string{"N", "N/(km/h)", "N/(km/h)^2"} {
		letter, e := string(rune('a'+k)), fit[k]
		i := e.Interval(0.95)
		texts[k] = fmt.Sprintf("%.5g %s", e.Value, unit)
		w.span(schema.Note, "coastdown_"+letter, name, fmt.Sprintf("coefficient %s of the coastdown's force A + B v + C v²: %.5g %s, 95 %% interval %.4g to %.4g (the three move together)", letter, e.Value, unit, i.Lo, i.Hi), e.Value, unit, c.t0, c.t1)
	}
	load := []float64{fit[0].Value, fit[1].Value, fit[2].Value}
	mid := 10 * math.Round((c.low+c.high)/20)
	what := fmt.Sprintf("road_load: [%s, %s, %s] in the vehicle's entry of vehicles.yaml would use it", texts[0], texts[1], texts[2])
	if onDyno {
		what = fmt.Sprintf("it is what rollers, tyres and wheels lose together; without the vehicle's share it is friction: [%s, %s, %s] of the dyno's entry in dynos.yaml", texts[0], texts[1], texts[2])
	}
	w.span(schema.Note, "coastdown_fit", name, fmt.Sprintf("%d coastdowns from %.0f to %.0f km/h, %d steps, mass %s, road level and air calm: %.0f N at %.0f km/h. Nothing uses it yet: %s", c.n, c.high, c.low, len(c.speeds), made, SpeedForce(load, mid), mid, what), SpeedForce(load, mid), "N", c.t0, c.t1)
	if c.geared > 0 {
		w.span(schema.Doubt, "coastdown_in_gear", name, fmt.Sprintf("in %d of %d coastdowns engine and road speed keep one ratio: a gear is engaged, and the engine's drag is part of the force; coast in neutral", c.geared, c.n), float64(c.geared), "1", c.t0, c.t1)
	}
	if stated := w.Vehicle.RoadLoad; len(stated) > 0 && !onDyno && c.geared == 0 {
		is, was := SpeedForce(load, mid), SpeedForce(stated, mid)
		if math.Abs(is-was) > roadApart*was {
			w.span(schema.Doubt, "road_load_disagrees", name, fmt.Sprintf("at %.0f km/h the coastdown shows %.0f N, the vehicle's road_load gives %.0f N, which is used: check mass, tyres, wind and grade, or state the new coefficients", mid, is, was), is/was, "1", c.t0, c.t1)
		}
	}
}

// span is find with a time.
func (w *work) span(severity schema.Severity, code, channel, text string, value float64, unit string, t0, t1 float64) {
	w.find(severity, code, channel, text, value, unit)
	last := &w.findings[len(w.findings)-1]
	last.T0S, last.T1S = t0, t1
}
