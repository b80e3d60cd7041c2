package demo

// run drives a plan from ignition on to the last idling and gives what happened. exact leaves out the pulls' own departures;
// rows is memory to be used again.
func (m Model) run(p plan, exact bool, rows []row) *trace {
	road := p.kind == "road" || p.kind == "coast"
	s := newSim(p.v, p.calibration(), p.day, road, m.Step)
	s.trace.rows = rows[:0]
	gain := func(i int) float64 {
		if exact {
			return 1
		}
		return p.gains[i]
	}
	s.rest(2.6, 4)
	switch {
	case p.kind == "sweep":
		s.sweeps(len(p.gains), gain)
	case p.kind == "steps":
		s.flight()
	case p.kind == "coast":
		s.coast()
	case p.kind == "other":
		s.burnOff()
	case p.v.drive.automatic:
		s.drives(p.pedals)
	default:
		s.climbs(gain)
	}
	s.gear, s.pedal = 0, 0
	s.idle(4)
	return s.trace
}

// gentle is the acceleration up to a pull.
func (m *sim) gentle() float64 {
	if m.v.duty == "heavy" {
		return 1
	}
	return 1.6
}

// sweeps is full-load pulls in the pull gear.
func (m *sim) sweeps(n int, gain func(int) float64) {
	e := &m.v.engine
	m.reach(m.v.drive.pullGear, e.from, m.gentle())
	for i := range n {
		m.hold(2)
		m.pull(gain(i))
		m.lift(e.from, 2.6)
	}
	m.stop(2.5)
}

// flight holds full load at a flight of engine speeds.
func (m *sim) flight() {
	e := &m.v.engine
	m.reach(m.v.drive.pullGear, e.from, m.gentle())
	m.hold(1)
	m.stairs(6, 7)
	m.lift(e.from, 2.6)
	m.stop(2.5)
}

// drives is an automatic on the road, off the line at each pedal in turn.
func (m *sim) drives(pedals []float64) {
	seconds, slow := 30.0, 1.8
	if m.v.duty == "heavy" {
		seconds, slow = 40, 0.8
	}
	for _, p := range pedals {
		m.accelerate(p, len(m.v.drive.ratios), seconds)
		m.stop(slow)
		m.idle(2)
	}
}

// climbs is a manual on the road: full load in third and on in fourth gear, twice.
func (m *sim) climbs(gain func(int) float64) {
	e, d := &m.v.engine, &m.v.drive
	for i := range 2 {
		m.reach(3, e.from+100, 1.8)
		m.hold(1.5)
		m.pull(gain(i))
		m.begin(4, 0, 0.6, 0)
		for m.change.active {
			m.step(hand{})
		}
		m.pull(gain(i))
		for limit := m.t + 20; m.t < limit && m.wheelSpeed()/d.radius*d.ratio(3)/radPerSecond > e.from; {
			m.step(hand{mode: held, accel: -3})
		}
		m.stop(3)
		m.idle(2)
	}
}

// coast speeds up and rolls out in neutral.
func (m *sim) coast() {
	if m.v.drive.automatic {
		m.accelerate(75, len(m.v.drive.ratios), 60)
	} else {
		m.reach(5, 2300, 1.8)
	}
	m.roll(35)
	m.stop(2)
}

// burnOff regenerates the filter at part load on a brake dyno: hotter gas, more volume, and a resistance that falls as the soot goes.
func (m *sim) burnOff() {
	const minutes, pedal = 6, 45
	e := &m.v.engine
	m.reach(m.v.drive.pullGear, e.from*1.2, m.gentle())
	m.stay(pedal, 25)
	rest, rate := m.v.exhaust.rest(), (m.v.exhaust.full-m.v.exhaust.rest())/(60*minutes)
	for m.regen = 1; m.d.soot > rest; m.d.soot -= rate * m.dt {
		m.step(hand{mode: held, pedal: pedal})
	}
	m.regen = 0
	m.stay(pedal, 25)
	m.lift(e.from, 2.6)
	m.stop(2.5)
}
