package segment

import (
	"math"

	"dynolake/derive/stats"
)

// Coasting and braking. Common practice, no source.
const (
	coastTime   = 2.0  // s.
	coastHalf   = 1.5  // s. Half width for slow decelerations.
	coastOn     = -0.3 // km/h/s. A vehicle in neutral loses more than this on the flat.
	coastOff    = 0.0
	brakeTime   = 0.7  // s.
	brakeLight  = -4.3 // km/h/s, 1.2 m/s²: more than an engine alone takes off a light vehicle in its upper gears.
	brakeHeavy  = -2.9 // km/h/s, 0.8 m/s²: a retarder or the service brake of a heavy one.
	brakeEnds   = 0.5  // Of the above.
	brakeCoasts = 1.8  // Times the above while a coast-down is being run: light rollers stop fast by themselves.
	fuelNone    = 0.01 // Of the highest fuel flow.
)

// offPedal tells at each grid point whether nothing is asked of the engine: by the pedal, else fuel, else load. It is nil when
// none is logged.
func (s *scan) offPedal(b *block) func(i int) bool {
	if s.pedal.logged {
		p, _ := b.track("pedal_pct", fastN)
		return func(i int) bool { return s.pedal.released(p[i]) }
	}
	for _, name := range []string{"fuel_kg_h", "inj_mg"} {
		if s.frame.Has(name) {
			x, _ := b.track(name, fastN)
			limit := max(fuelNone*orZero(s.held(name, 1, 0.5)), 0.3)
			idle := s.idleFuel(name, limit)
			return func(i int) bool { return x[i] <= max(limit, idle) }
		}
	}
	if s.frame.Has("load_pct") {
		x, _ := b.track("load_pct", fastN)
		low := s.held("load_pct", -1, 0.5)
		return func(i int) bool { return x[i] <= low+3 }
	}
	return nil
}

// idleFuel is what the engine burns at idle, which it does too while a clutch is open; never more than ten times the limit.
func (s *scan) idleFuel(name string, limit float64) float64 {
	var x []float64
	for _, b := range s.blocks {
		n, _ := b.track("engine_speed_rpm", fastN)
		f, _ := b.track(name, fastN)
		for i := range f {
			if n[i] > running && s.idles(n[i]) {
				x = append(x, f[i])
			}
		}
	}
	return min(orZero(stats.Quantile(0.75, x)), 10*limit)
}

// braking is where the vehicle slows down without pedal by more than engine and road take.
func (s *scan) braking(b *block) []stats.Span {
	_, a := b.track(s.roadColumn(), fastV)
	off := s.offPedal(b)
	limit := brakeLight
	if s.Vehicle != nil && s.Vehicle.Duty == "heavy" {
		limit = brakeHeavy
	}
	if s.Test == "coast" {
		limit *= brakeCoasts
	}
	masked := make([]float64, len(a))
	for i := range a {
		if masked[i] = a[i]; off != nil && !off(i) {
			masked[i] = math.NaN()
		}
	}
	return stats.Join(stats.Hysteresis(masked, limit, brakeEnds*limit), b.points(0.3))
}

// coasting is where nothing is asked of the engine and the vehicle rolls and slows down. Without a channel that tells what is
// asked, the deceleration alone.
func (s *scan) coasting(b *block) []stats.Span {
	v, a := b.track(s.roadColumn(), coastHalf)
	off := s.offPedal(b)
	masked := make([]float64, len(a))
	for i := range a {
		if masked[i] = a[i]; !(v[i] > rolling) || off != nil && !off(i) {
			masked[i] = math.NaN()
		}
	}
	return stats.Join(stats.Hysteresis(masked, coastOn, coastOff), b.points(0.5))
}

// roadColumn is the road speed's column in km/h; the output shaft's speed is none.
func (s *scan) roadColumn() string {
	if s.speed != "" && s.speed != "output_shaft_rpm" {
		return s.speed
	}
	if s.frame.Has("vehicle_speed_kmh") {
		return "vehicle_speed_kmh"
	}
	return "roller_speed_kmh"
}
