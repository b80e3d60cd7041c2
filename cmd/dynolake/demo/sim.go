package demo

import "math"

const radPerSecond = math.Pi / 30 // Per 1/min.

// mode says who decides the acceleration.
type mode int

const (
	free mode = iota // Force over mass.
	held             // The dyno's brake holds it; the pedal is the driver's.
	led              // The driver holds it; the pedal follows.
)

// hand is what driver and dyno do during a step.
type hand struct {
	mode  mode
	pedal float64 // Asked for, %.
	accel float64 // m/s², of held and led.
	brake float64 // Wheel brakes, N.
}

// sim moves one vehicle through time, on its dyno or on the road.
type sim struct {
	v    *vehicle
	c    step
	d    day
	road bool
	gain float64 // This pull's departure in fuel, 1 for none.
	dt   float64

	t, vel, accel, speed float64 // s, m/s, m/s², 1/min.
	slip                 float64 // Of the tyre.
	force, brakeForce    float64 // At the roller or road, and what a brake dyno absorbs, N.
	pedal                float64 // %.
	gear                 int
	lock                 float64
	locking              bool
	since                float64 // Seconds since the last shift.
	change               change
	running              bool
	regen                float64
	s                    slow
	g                    gas
	trace                *trace
}

// change is a shift under way.
type change struct {
	active bool
	to     int
	start  float64
	length float64
	cut    float64 // Share of the torque that passes meanwhile.
	peak   ShiftTruth
}

func newSim(v *vehicle, c step, d day, road bool, dt float64) *sim {
	ambient := d.ambient + kelvin
	s := slow{charge: ambient + 8, pipe: 430, probe: 430, after: 430, coolant: 84, oil: 92, trans: 74, vane: 95}
	return &sim{v: v, c: c, d: d, road: road, gain: 1, dt: dt, s: s, since: 99, trace: &trace{dt: dt}}
}

// ratio is the overall one of the instant, eased from gear to gear during a shift.
func (m *sim) ratio() float64 {
	r := m.v.drive.ratio(m.gear)
	if !m.change.active {
		return r
	}
	u := ease((m.t - m.change.start) / m.change.length)
	return r + (m.v.drive.ratio(m.change.to)-r)*u
}

// wheelSpeed is the speed of the tyre's surface, m/s.
func (m *sim) wheelSpeed() float64 { return m.vel / (1 - m.slip) }

// couple sets the engine's speed from the wheels'.
func (m *sim) couple(ratio, load float64) (turbine float64) {
	d, e := &m.v.drive, &m.v.engine
	turbine = m.wheelSpeed() / d.radius * ratio / radPerSecond
	switch {
	case !m.running:
		m.speed -= m.speed * m.dt / 0.2
	case ratio == 0:
		m.speed += (e.idle - m.speed) * m.dt / 0.3
	case d.automatic:
		open := smoothMax(e.idle+(e.stall-e.idle)*math.Sqrt(load), turbine+20+180*load, 150)
		m.speed = m.lock*turbine + (1-m.lock)*open
	default:
		tied := clamp((turbine/e.idle-1.15)/0.3, 0, 1)
		m.speed = tied*turbine + (1-tied)*smoothMax(e.idle, turbine, 120)
	}
	return turbine
}

// step moves everything by dt.
func (m *sim) step(h hand) {
	d := &m.v.drive
	m.pedal += clamp(h.pedal-m.pedal, -400*m.dt, 300*m.dt)
	ratio := m.ratio()
	load := asked(m.pedal)
	turbine := m.couple(ratio, load)
	rigid := ratio > 0 && (!d.automatic || m.lock >= 1)
	spin := d.wheels / (d.radius * d.radius)
	if rigid {
		spin += m.v.engine.inertia * ratio * ratio / (d.radius * d.radius)
	}
	mass, loss := m.inertia(), m.loss()
	pass, want := m.transmit(h, turbine, ratio, (mass+spin)*h.accel+loss)
	if h.mode == led && !m.shifting() {
		full := m.v.engine.torque.at(m.speed) * m.c.torque
		load = clamp(want/full, 0, 1)
		m.pedal = pedalFor(load)
	} else {
		want = math.NaN()
		if ratio == 0 || m.speed < 1.02*m.v.engine.idle {
			want = max(0, load*m.v.engine.torque.at(m.speed)) // The idle governor holds the engine.
		}
	}
	m.g = m.v.burn(&m.s, m.d, m.c, m.speed, load, want, m.gain)
	drive := m.g.torque * pass
	if m.g.torque < 0 {
		drive = m.g.torque * pass / (d.efficiency * d.efficiency)
	}
	switch {
	case h.mode == free || m.shifting() && h.mode == led:
		m.accel = (drive - loss - h.brake) / (mass + spin)
		m.force = drive - spin*m.accel - h.brake
	case h.mode == held && m.braked():
		m.accel = h.accel
		m.force = drive - spin*m.accel - h.brake
	default:
		m.accel = h.accel
		m.force = mass*m.accel + loss
	}
	m.brakeForce = m.force - mass*m.accel - loss
	m.record(load)
	m.advance(turbine, load)
}

// asked is the share of full load that a pedal, %, asks for; pedalFor is its inverse.
func asked(pedal float64) float64 {
	p := clamp(pedal/100, 0, 1)
	return p * (0.75 + 0.25*p)
}

func pedalFor(load float64) float64 { return 200 * (math.Sqrt(0.5625+load) - 0.75) }

// braked reports whether the bench's own brake holds the speed; elsewhere the wheel brakes do.
func (m *sim) braked() bool { return !m.road && m.v.bench.kind == "brake" }

// inertia is the mass that the wheels move: the rollers', or the vehicle's own on the road.
func (m *sim) inertia() float64 {
	if m.road {
		return m.v.drive.mass
	}
	return m.v.bench.mass
}

// loss is the resistance of rollers or road, N.
func (m *sim) loss() float64 {
	if m.road {
		return resistance(m.v.drive.road, m.vel)
	}
	return resistance(m.v.bench.friction, m.vel)
}

// transmit gives tractive force per engine torque, 1/m, and the engine torque that a wanted tractive force asks for.
func (m *sim) transmit(h hand, turbine, ratio, force float64) (pass, want float64) {
	d := &m.v.drive
	gainFactor := 1.0
	if d.automatic && ratio > 0 && m.speed > 0 {
		gainFactor = 1 + (1-m.lock)*0.9*max(0, 1-turbine/m.speed/0.86)
	}
	pass = gainFactor * ratio * d.efficiency / d.radius
	if m.shifting() {
		pass *= m.change.cut
	}
	if m.gear == 1 && d.automatic {
		pass *= 0.65 // Torque is held back in first gear, as transmissions do.
	}
	if h.mode == led && pass > 0 {
		want = force / pass
	}
	return pass, want
}

// advance integrates the states that lag.
func (m *sim) advance(turbine, load float64) {
	s, g, dt := &m.s, &m.g, m.dt
	m.t += dt
	m.since += dt
	m.vel = max(0, m.vel+m.accel*dt)
	m.slip += (clamp(m.force/m.v.drive.grip, -0.1, 0.1) - m.slip) * dt / 0.15
	s.boost = max(0, s.boost+g.boostRate*dt)
	s.pump = g.turbineIn - g.mani
	s.charge += (g.tCharge - s.charge) * dt / 1.5
	s.pipe += (g.tAfter + 180*m.regen - 15 - s.pipe) * dt / 1.8
	s.probe += (g.tIn - s.probe) * dt / 0.8
	s.after += (g.tAfter - s.after) * dt / 0.8
	s.vane += (g.vaneSet - s.vane) * dt / 0.12
	s.rail += (m.railSet(load) - s.rail) * dt / 0.1
	heat := clamp(g.torque*m.speed/9549.297/m.v.engine.ratedKW, 0, 1.5)
	s.coolant += (84 + 9*heat - s.coolant) * dt / 60
	s.oil += (92 + 22*heat - s.oil) * dt / 90
	s.trans += (74 + 20*heat - s.trans) * dt / 120
	m.turn(turbine)
}

func (m *sim) railSet(load float64) float64 {
	if !m.running {
		return 0
	}
	e := &m.v.engine
	return 28000 + (e.rail-28000)*(0.65*load+0.35*load*clamp(m.speed/e.ratedRPM, 0, 1.1))
}
