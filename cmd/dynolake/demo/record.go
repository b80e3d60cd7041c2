package demo

import "math"

// record appends the instant to the trace, in the catalogue's units.
func (m *sim) record(load float64) {
	m.trace.rows = append(m.trace.rows, row{})
	r := &m.trace.rows[len(m.trace.rows)-1]
	m.recordEngine(r, load)
	m.recordAir(r)
	m.recordExhaust(r)
	m.recordWheels(r)
}

func (m *sim) recordEngine(r *row, load float64) {
	g, s := &m.g, &m.s
	full := max(m.v.engine.torque.at(m.speed)*m.c.torque, 1)
	for i, v := range [...]float64{
		m.speed, m.pedal, 100 * clamp(g.torque/full, 0, 1), g.torque, g.fuel * 3600, g.mg, s.rail, m.railSet(load),
	} {
		r[i] = v
	}
	if !m.running {
		r[2], r[3], r[6] = 0, 0, 0
	}
}

func (m *sim) recordAir(r *row) {
	g, s := &m.g, &m.s
	for i, v := range [...]float64{
		m.d.baro, g.inlet, m.d.ambient + 2, g.mani, m.d.baro + max(g.target, 0), g.out, g.tOut - kelvin, s.charge - kelvin,
		g.air * 1000, min(g.lambda, 8), 100 * g.egr, s.vane, g.vaneSet, g.shaft,
	} {
		r[8+i] = v
	}
}

func (m *sim) recordExhaust(r *row) {
	g, s := &m.g, &m.s
	for i, v := range [...]float64{
		g.turbineIn, s.probe - kelvin, g.turbineOut, s.after - kelvin, g.dpf, g.exhaust, s.pipe - kelvin, m.d.soot, m.regen,
	} {
		r[22+i] = v
	}
}

func (m *sim) recordWheels(r *row) {
	d, s := &m.v.drive, &m.s
	wheel := m.wheelSpeed()
	power := m.force * m.vel / 1000
	torque := 0.0
	if m.speed > 300 {
		torque = power * 9549.297 / m.speed
	}
	absorbed := m.force
	if m.braked() {
		absorbed = m.brakeForce
	}
	volts, oil := 12.4, 0.0
	if m.running {
		volts, oil = 14.1, 90+410*clamp(m.speed/m.v.engine.ratedRPM, 0, 1)
	}
	if m.v.duty == "heavy" {
		volts *= 2
	}
	locked := math.Floor(m.lock) // A switch: on when it no longer slips.
	for i, v := range [...]float64{
		wheel * 3.6, float64(m.shown()), locked, wheel / d.radius * d.final / radPerSecond, m.vel * 3.6, absorbed,
		m.force * d.radius, power, m.d.ambient, m.d.humidity, s.coolant, s.oil, oil, s.trans, volts, torque,
	} {
		r[31+i] = v
	}
}
