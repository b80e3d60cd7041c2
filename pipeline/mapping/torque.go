package mapping

import (
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// powerFactor is 60000/(2π): P[kW] = T[N·m]·n[1/min]/powerFactor.
const powerFactor = 60000 / (2 * math.Pi)

// torques tells the torques from each other by what agrees with power: torque at engine speed gives it with the engine's speed,
// torque at the hubs with the wheels'.
func (b *bench) torques() {
	for i, c := range b.claims {
		if (c.Column == "torque_nm" || c.Column == "wheel_torque_nm") && c.Rule == "" && len(b.trace(i).v) > 0 {
			b.torque(i)
		}
	}
}

// agreement is how a torque stands to what it should be: the median of their ratio and half its spread (16 to 84 %).
type agreement struct {
	ratio, spread float64
	n             int
}

func (a agreement) good() bool { return a.n >= 5 && math.Abs(a.ratio-1) <= 0.08 }

func (b *bench) torque(i int) {
	c := &b.claims[i]
	engine, hub := b.agreements(i)
	if b.radius() == 0 {
		if b.torqueByRadius(i, engine, hub) {
			return
		}
		hub = agreement{ratio: math.NaN(), spread: math.NaN()} // Without a radius the figure at the hubs is one, not an agreement.
	}
	switch {
	case engine.n < 5 && hub.n < 5:
		b.find(i, schema.Note, "torque_assumed", fmt.Sprintf("no power, or force and speed, to compare it with: taken as %s by its name", c.Column), math.NaN(), "")
	case engine.good() && hub.good():
		b.find(i, schema.Note, "torque_assumed", fmt.Sprintf("it agrees with power at engine speed and at the hubs alike, in a ratio near 1: taken as %s by its name", c.Column), engine.ratio, "1")
	case engine.good():
		b.torqueIs(i, "torque_nm", fmt.Sprintf("times engine speed it is %.3g of the power at the wheels", engine.ratio), engine.ratio)
	case hub.good():
		b.torqueIs(i, "wheel_torque_nm", fmt.Sprintf("times the wheels' speed it is %.3g of the power at the wheels", hub.ratio), hub.ratio)
	case engine.n >= 5 && engine.ratio > 1.08 && engine.ratio < 1.5 && engine.spread < 0.08:
		b.torqueIs(i, "engine_torque_nm", fmt.Sprintf("times engine speed it is %.3g of the power at the wheels, a driveline's loss above it", engine.ratio), engine.ratio)
		b.claims[i].Confidence -= 0.2
	default:
		worst := engine
		if worst.n < 5 {
			worst = hub
		}
		b.find(i, schema.Doubt, "torque_unclear", fmt.Sprintf("it agrees with power neither at engine speed (ratio %.3g) nor at the hubs (ratio %.3g): taken as %s by its name; add a mapping with its column", engine.ratio, hub.ratio, c.Column), worst.ratio, "1")
	}
}

// torqueByRadius tells a torque at the hubs without a rolling radius: it is a steady wheel's radius times the force at the wheels,
// or a steady overall gear ratio times what power gives at engine speed.
func (b *bench) torqueByRadius(i int, engine, hub agreement) bool {
	switch {
	case engine.good():
		return false
	case hub.n >= 5 && hub.ratio >= 0.2 && hub.ratio <= 0.65 && hub.spread < 0.05:
		b.torqueIs(i, "wheel_torque_nm", fmt.Sprintf("it is a steady %.3g m times the force at the wheels, as a wheel's radius makes it", hub.ratio), hub.ratio)
		return true
	case engine.n >= 5 && engine.ratio >= 1.8 && engine.spread < 0.06:
		b.torqueIs(i, "wheel_torque_nm", fmt.Sprintf("it is a steady %.4g times what power gives at engine speed, as an overall gear ratio makes it", engine.ratio), engine.ratio)
		return true
	}
	return false
}

func (b *bench) torqueIs(i int, column, why string, ratio float64) {
	c := &b.claims[i]
	severity, verb := schema.Note, "is"
	if column != c.Column {
		verb = "is not " + c.Column + " but"
		if c.Column == "wheel_torque_nm" || column == "engine_torque_nm" {
			severity = schema.Doubt
		}
	}
	b.find(i, severity, "torque_told", fmt.Sprintf("%s %s: %s", verb, column, why), ratio, "1")
	c.Column = column
	c.Why += ", " + column + " since " + why
}

func (b *bench) radius() float64 {
	if b.ctx.Vehicle == nil {
		return 0
	}
	return b.ctx.Vehicle.RollingRadiusM
}

// agreements compares a torque with the power at the wheels, at engine speed and at the hubs, on the rows of real load. Without a
// rolling radius the second is in metres: the torque over the force at the wheels.
func (b *bench) agreements(i int) (engine, hub agreement) {
	tr := b.trace(i)
	power, speed := b.wheelPower(tr)
	rpm := make([]float64, len(tr.t))
	if j := b.nearby("engine_speed_rpm", tr.log); j >= 0 {
		e := b.trace(j)
		for k, t := range tr.t {
			rpm[k] = e.at(t)
		}
	}
	top := 0.0
	for _, p := range power {
		if p > top {
			top = p
		}
	}
	var atEngine, atHub []float64
	for k, p := range power {
		if !(p >= 0.3*top) || p < 2 {
			continue
		}
		if rpm[k] > idleFrom {
			atEngine = append(atEngine, tr.v[k]*rpm[k]/powerFactor/p)
		}
		if speed[k] > 5 {
			atHub = append(atHub, tr.v[k]*speed[k]/3600/p/unknownRadius(b.radius()))
		}
	}
	return agree(atEngine), agree(atHub)
}

// unknownRadius makes the figure at the hubs the radius itself where no radius is known.
func unknownRadius(r float64) float64 {
	if r > 0 {
		return r
	}
	return 1
}

func agree(ratios []float64) agreement {
	s := slices.Clone(ratios)
	slices.Sort(s)
	a := agreement{median(s), math.NaN(), len(s)}
	if len(s) > 0 {
		a.spread = (quantile(s, 0.84) - quantile(s, 0.16)) / 2 / math.Abs(a.ratio)
	}
	return a
}

// wheelPower is the power at the wheels in kW at a trace's times, logged or from the roller's force and speed, and the road's
// speed in km/h; NaN where not known.
func (b *bench) wheelPower(tr trace) (power, speed []float64) {
	power, speed = schema.Missing(len(tr.t)), schema.Missing(len(tr.t))
	if j := b.road(tr.log); j >= 0 {
		v := b.trace(j)
		for k, t := range tr.t {
			speed[k] = v.at(t)
		}
	}
	if j := b.nearby("wheel_power_kw", tr.log); j >= 0 {
		p := b.trace(j)
		for k, t := range tr.t {
			power[k] = p.at(t)
		}
	} else if j := b.nearby("roller_force_n", tr.log); j >= 0 {
		f := b.trace(j)
		for k, t := range tr.t {
			power[k] = f.at(t) * speed[k] / 3600
		}
	}
	return power, speed
}
