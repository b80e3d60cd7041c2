package demo

import "math"

// Constants of the gas and the fuel: dry air and lean exhaust as doc.go cites them.
const (
	gasConstant = 287.055 // J/(kg·K).
	cpAir       = 1005.0  // J/(kg·K).
	cpExhaust   = 1150.0  // J/(kg·K).
	heatingMJ   = 42.8    // MJ/kg.
	stoich      = 14.5
	densityKgL  = 0.835
	toExhaust   = 0.33 // Share of the fuel's heat that reaches the turbine above the charge's own.
	headFactor  = 0.62 // Isentropic head over the square of the compressor's tip speed.
	kelvin      = 273.15
)

// day is what the weather and the filter are on the day of a run.
type day struct {
	baro, ambient, humidity float64 // kPa, °C, %.
	soot                    float64 // g.
}

// gas is the state of air, fuel and exhaust at one instant. Pressures in kPa absolute, temperatures in K, flows in kg/s.
type gas struct {
	air, fuel, mg, lambda, egr float64
	inlet, out, mani           float64
	tOut, tCharge              float64
	turbineIn, turbineOut      float64
	tIn, tAfter                float64
	dpf, exhaust               float64 // Gauge, kPa.
	vaneSet, shaft, target     float64
	boostRate                  float64 // kPa/s.
	torque, indicated          float64 // At the crankshaft, N·m.
}

// slow holds the states that lag: integrated by the simulation.
type slow struct {
	boost        float64 // kPa over barometric.
	charge       float64 // K.
	pipe         float64 // Gas temperature at the filter, K.
	probe        float64 // What the turbine-inlet probe reads, K.
	after        float64 // What the probe behind the turbine reads, K.
	pump         float64 // Turbine inlet less manifold of the step before, kPa.
	vane, rail   float64
	coolant, oil float64 // °C.
	trans        float64
}

// efficiency of the whole turbocharger at a share of its flow.
func (t turbo) overall(share float64) float64 {
	over := smoothMax(share-t.choke, 0, 0.06)
	under := smoothMax(0.35-share, 0, 0.1)
	return max(t.efficiency-t.fall*over*over-0.35*under, 0.2)
}

// burn finds the instant at engine speed n (1/min) and load 0 to 1. want, unless NaN, is the brake torque to be met instead.
func (v *vehicle) burn(s *slow, d day, c step, n, load, want, gain float64) gas {
	e, t := &v.engine, &v.turbo
	g := gas{inlet: d.baro, out: d.baro, mani: d.baro + s.boost, turbineIn: d.baro, turbineOut: d.baro, lambda: 20}
	ambient := d.ambient + kelvin
	g.tOut, g.tCharge, g.tIn, g.tAfter = ambient, s.charge, s.pipe, s.pipe
	if n < 100 {
		g.boostRate = -s.boost / 0.3
		g.vaneSet = 95 // Parked nearly closed.
		return g
	}
	g.egr = 0.22 * clamp(1-(load-0.2)/0.3, 0, 1) * clamp((n-100)/e.idle, 0, 1)
	stroke := e.breathing * g.mani * 1e3 * e.litres / 1e3 / e.cylinders / (gasConstant * s.charge) * (1 - g.egr) // kg.
	g.air = stroke * e.cylinders * n / 120
	flow := g.air / t.flow
	g.inlet = d.baro - 2.2*flow*flow
	g.out = g.mani + 6*flow*flow
	total := t.overall(flow * math.Sqrt(ambient/298) * 100 / g.inlet)
	rise := math.Pow(g.out/g.inlet, 2.0/7) - 1
	w := wheel{head: cpAir * ambient * rise, compressor: 0.76 * math.Sqrt(total/t.efficiency)}
	w.driven = total / w.compressor
	w.perKPa = 2 * t.inertia / (headFactor * t.compressor * t.compressor) * cpAir * ambient * 2 / 7 * (1 + rise) / g.out
	g.tOut = ambient * (1 + rise/w.compressor)
	g.tCharge = g.tOut - (0.88-0.1*flow)*(g.tOut-ambient-3)
	v.inject(s, c, &g, n, load, want, gain, stroke*1e6)
	v.expand(s, d, c, &g, n, load, w)
	return g
}

// inject sets fuel and torque. airMG is the air of one stroke in mg.
func (v *vehicle) inject(s *slow, c step, g *gas, n, load, want, gain, airMG float64) {
	e := &v.engine
	lost := e.friction[0] + e.friction[1]*n/1000 + s.pump*e.litres/(4*math.Pi)
	asked := e.torque.at(n)*c.torque*load + lost*min(1, 4*load)
	if !math.IsNaN(want) {
		asked = want + lost
	}
	perMG := heatingMJ * e.work * e.cylinders / (4 * math.Pi) // N·m per mg and stroke.
	q := max(asked, 0) / perMG * gain
	if smoke := airMG / (stoich * c.lambda); q > smoke {
		q = smoke
	}
	g.mg = q
	g.fuel = q * 1e-6 * e.cylinders * n / 120
	if q > 0 {
		g.lambda = min(airMG/(stoich*q), 20)
	}
	g.indicated = q * perMG * (1 - 0.15*clamp(1.45-g.lambda, 0, 0.5))
	g.torque = g.indicated - lost
}

// wheel is what the two wheels of the turbocharger need and give at an instant.
type wheel struct {
	head       float64 // Isentropic, J/kg.
	compressor float64 // Isentropic efficiency.
	driven     float64 // Turbine × mechanical efficiency.
	perKPa     float64 // Shaft energy per kPa of boost, J.
}

// expand sets everything behind the engine and the rate of the boost.
func (v *vehicle) expand(s *slow, d day, c step, g *gas, n, load float64, w wheel) {
	t := &v.turbo
	mass := g.air + g.fuel
	g.tIn = s.charge + 45 + toExhaust*g.fuel*heatingMJ*1e6/(mass*cpExhaust)
	share := mass / t.flow
	hot := s.pipe / 800
	tail := v.exhaust.tail * share * share * hot * 100 / d.baro
	g.dpf = v.exhaust.filter * (1 + 0.9*d.soot/v.exhaust.full) * share * hot * 110 / (d.baro + tail)
	g.exhaust = tail + g.dpf
	g.turbineOut = d.baro + g.exhaust

	idle := clamp(n/v.engine.idle-1, 0, 1)
	g.target = v.engine.boost.at(n) * c.boost * load * idle
	need := g.air * w.head / w.compressor // W.
	heat := mass * cpExhaust * g.tIn * w.driven
	slower := t.lagSpeed / n
	g.boostRate = (g.target - s.boost) / (t.lag * slower * math.Sqrt(math.Sqrt(slower)))
	closed, open := t.flow*areaClosed, t.flow*areaOpen
	highest := min(nozzle(g, mass, closed), pressureLimit)
	g.boostRate = min(g.boostRate, (heat*drop(highest/g.turbineOut)-need)/w.perKPa)
	part := clamp((need+w.perKPa*g.boostRate)/heat, 0, 0.7)
	expansion := 1 / ((1 - part) * (1 - part) * (1 - part) * (1 - part))
	g.turbineIn = clamp(g.turbineOut*expansion, nozzle(g, mass, open), highest)
	area := mass * math.Sqrt(g.tIn) / math.Sqrt(g.turbineIn*g.turbineIn-g.turbineOut*g.turbineOut)
	g.vaneSet = clamp(100*(open-area)/(open-closed), 0, 100)
	g.tAfter = g.tIn * (1 - 0.95*w.driven*drop(g.turbineIn/g.turbineOut))
	g.shaft = math.Sqrt(max(w.head, 0)/headFactor) / (math.Pi * t.compressor) * 60
}

// Effective turbine areas with the vanes closed and open, per kg/s of the turbo's flow, kg/s·√K/kPa.
const (
	areaClosed = 0.035
	areaOpen   = 0.175
)

// pressureLimit is where the controller opens the vanes, whatever boost it asks for, kPa.
const pressureLimit = 750.0

// nozzle is the pressure that drives the mass flow through an area: the ellipse law, p_in² = p_out² + (m √T / A)².
func nozzle(g *gas, mass, area float64) float64 {
	x := mass * math.Sqrt(g.tIn) / area
	return math.Sqrt(g.turbineOut*g.turbineOut + x*x)
}

// drop is the isentropic temperature drop over an expansion ratio, as a share of the inlet temperature, with 4/3 for exhaust.
func drop(expansion float64) float64 { return 1 - 1/math.Sqrt(math.Sqrt(expansion)) }
