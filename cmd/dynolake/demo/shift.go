package demo

import "math"

// turn moves a shift and the converter's lock-up on by a step.
func (m *sim) turn(turbine float64) {
	d := &m.v.drive
	if c := &m.change; c.active {
		if m.speed > c.peak.EngineSpeedRPM {
			c.peak.EngineSpeedRPM, c.peak.TimeS = m.speed, m.t-m.dt
		}
		if m.t >= c.start+c.length {
			if c.to > m.gear && m.gear > 0 {
				c.peak.Locked = m.lock >= 1
				m.trace.shifts = append(m.trace.shifts, c.peak)
			}
			m.gear, m.since, c.active = c.to, 0, false
		}
	}
	if !d.automatic {
		return
	}
	if !m.locking && !m.change.active && m.gear >= d.lockGear && turbine > d.lockSpeed && m.since > 0.9 {
		m.locking = true
	}
	if m.locking && turbine < d.lockSpeed-200 {
		m.locking = false
	}
	rate := -6.0
	if m.locking {
		rate = 1 / 0.6
	}
	m.lock = clamp(m.lock+rate*m.dt, 0, 1)
}

// begin starts a shift after a delay. The torque that passes meanwhile is cut to a share.
func (m *sim) begin(to int, delay, length, cut float64) {
	m.change = change{active: true, to: to, start: m.t + delay, length: length, cut: cut}
	m.change.peak = ShiftTruth{FromGear: m.gear, ToGear: to, PedalPct: m.pedal}
}

// shown is the gear that the transmission reports: the new one from half of the shift.
func (m *sim) shown() int {
	if c := m.change; c.active && m.t > c.start+c.length/2 {
		return c.to
	}
	return m.gear
}

// shifting reports whether the ratio is changing.
func (m *sim) shifting() bool { return m.change.active && m.t >= m.change.start }

// ahead gives the seconds until the engine, gaining speed as now, reaches a speed.
func (m *sim) ahead(speed float64) float64 {
	rate := m.accel / m.v.drive.radius * m.ratio() / radPerSecond
	if rate <= 0 {
		return math.Inf(1)
	}
	return (speed-m.speed)/rate - m.dt // The speed is the one at the step's beginning.
}

const upshiftDelay = 0.2 // From the controller's decision to the first change of ratio, s.

// schedule decides upshifts of an automatic. It looks ahead over its own delay, so that the engine peaks at the scheduled speed.
func (m *sim) schedule() {
	d := &m.v.drive
	if m.change.active || m.since < 0.6 || m.gear < 1 || m.gear >= len(d.ratios) {
		return
	}
	if left := m.ahead(d.shiftSpeed(m.gear, m.pedal)); left <= upshiftDelay {
		m.begin(m.gear+1, max(left, 0), 0.5, 0.5)
	}
}
