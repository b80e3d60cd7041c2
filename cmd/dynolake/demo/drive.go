package demo

// The phases of a run. Each moves the simulation on until its own end.

// rest lets the ignition be on with the engine stopped, then starts it and idles.
func (m *sim) rest(off, idle float64) {
	m.running, m.gear = false, 0
	for end := m.t + off; m.t < end; {
		m.step(hand{mode: held})
	}
	m.running = true
	m.idle(idle)
}

// idle stands in neutral.
func (m *sim) idle(seconds float64) {
	for end := m.t + seconds; m.t < end; {
		m.step(hand{mode: held})
	}
}

// reach drives to an engine speed in a gear, gently, as a driver does before a pull. A manual goes up through the gears.
func (m *sim) reach(gear int, speed, accel float64) {
	d := &m.v.drive
	if m.gear < 1 {
		m.gear = 1
		if d.automatic && !m.road {
			m.gear = gear // The bench mode of the transmission holds the gear from standstill.
		}
	}
	target := speed * radPerSecond / d.ratio(gear) * d.radius
	eased := 0.0
	for limit := m.t + 90; m.t < limit && (m.gear < gear || m.change.active || m.wheelSpeed() < target); {
		if left := m.ahead(m.v.engine.idle * 2.3); !m.change.active && m.gear < gear && left < 0.1 {
			m.begin(m.gear+1, max(left, 0), 0.6, 0)
		}
		eased = min(1, eased+m.dt/0.6)
		a := accel * eased
		if left := target - m.wheelSpeed(); m.gear == gear && left < 1 {
			a *= max(0.15, left)
		}
		h := hand{mode: led, accel: a}
		if m.shifting() {
			h, eased = hand{mode: free}, 0
		}
		m.step(h)
	}
}

// hold keeps the speed for some seconds, the pedal following.
func (m *sim) hold(seconds float64) {
	for end := m.t + seconds; m.t < end; {
		m.step(hand{mode: led})
	}
}

// pull goes to full pedal and through the speed range. On a brake dyno the speed is held until the boost is there.
func (m *sim) pull(gain float64) {
	m.gain = gain
	defer func() { m.gain = 1 }()
	e, d := &m.v.engine, &m.v.drive
	first, gear := -1, m.gear
	begin, rate := m.t, 0.0
	for limit := m.t + 60; m.t < limit && m.speed < e.to; {
		h := hand{pedal: 100}
		if m.braked() {
			if m.t-begin > 2.5 {
				rate = min(m.v.sweep, rate+m.v.sweep*m.dt/0.5)
			}
			h.mode, h.accel = held, rate*radPerSecond/d.ratio(gear)*d.radius
		}
		m.step(h)
		if first < 0 && m.pedal >= 100 {
			first = len(m.trace.rows) - 1
		}
	}
	m.trace.pulls = append(m.trace.pulls, span{first, len(m.trace.rows), gear})
}

// lift comes off the pedal and slows to an engine speed in the same gear.
func (m *sim) lift(speed, decel float64) {
	for limit := m.t + 60; m.t < limit && m.speed > speed; {
		a := -decel * clamp((m.speed-speed)/100, 0.2, 1)
		m.step(hand{mode: held, accel: a})
	}
}

// stop brakes to standstill in neutral or, with an automatic, down through the gears.
func (m *sim) stop(decel float64) {
	d := &m.v.drive
	if !d.automatic {
		m.gear = 0
	}
	for limit := m.t + 120; m.t < limit && m.vel > 0.05; {
		turbine := m.wheelSpeed() / d.radius * m.ratio() / radPerSecond
		if d.automatic && m.road && !m.change.active && m.gear > 1 && turbine < m.v.engine.idle*1.25 {
			m.begin(m.gear-1, 0, 0.4, 1)
		}
		a := -decel * clamp(m.vel/1.5, 0.1, 1)
		m.step(hand{mode: held, accel: a})
	}
	m.vel, m.accel, m.gear, m.change.active = 0, 0, 0, false
	m.locking = false
}

// accelerate lets an automatic drive off at a pedal and change up by its schedule, to the last gear or for some seconds.
func (m *sim) accelerate(pedal float64, last int, seconds float64) {
	m.gear, m.since = 1, 0
	for end := m.t + seconds; m.t < end; {
		m.schedule()
		if m.gear >= last && m.since > 2.5 {
			break
		}
		m.step(hand{pedal: pedal})
	}
}

// roll coasts in neutral from here down to a road speed in km/h.
func (m *sim) roll(kmh float64) {
	m.gear, m.locking = 0, false
	for limit := m.t + 180; m.t < limit && m.vel*3.6 > kmh; {
		m.step(hand{})
	}
}

// stairs holds full pedal at even steps of engine speed on a brake dyno.
func (m *sim) stairs(n int, seconds float64) {
	e, d := &m.v.engine, &m.v.drive
	for i := range n {
		speed := e.from + (e.ratedRPM-e.from)*float64(i)/float64(n-1)
		pedal := 100.0
		for end := m.t + seconds; m.t < end; {
			a := clamp((speed-m.speed)*2, -400, 400) * radPerSecond / d.ratio(m.gear) * d.radius
			m.step(hand{mode: held, pedal: pedal, accel: a})
		}
	}
}

// stay holds the speed on the dyno's brake at a pedal.
func (m *sim) stay(pedal, seconds float64) {
	for end := m.t + seconds; m.t < end; {
		m.step(hand{mode: held, pedal: pedal})
	}
}
