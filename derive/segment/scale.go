package segment

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// What the channels mean in this log. Common practice, no source, unless said.
const (
	running     = 300.0  // rpm. Below it an engine does not run by itself.
	idleHighest = 1300.0 // rpm. No diesel idles faster, warm or cold.
	rolling     = 5.0    // km/h. Below it a road speed says little about the gear.
	standing    = 3.0    // km/h.
	fastN       = 0.1    // s. Half width over which engine speed and pedal are smoothed.
	fastV       = 0.5    // s. Half width for road speed: a vehicle cannot change it faster than this can follow.

	pedalFull   = 90.0 // %. Full pedal where the pedal reads up to 100.
	pedalScaled = 0.93 // Of the highest reading, where the pedal's end stop reads less than 100.
	pedalBack   = 8.0  // Points below full at which full pedal ends.
	pedalLowest = 75.0 // %. An end stop that reads less than this is a foot that did not go down.
	pedalFree   = 17.0 // %. A released pedal reads no more than this.
	plateTime   = 3.0  // s. A diesel's throttle plate stands open at idle for longer than this.
	plateSpeed  = 1000.0
	loadFull    = 85.0 // %.
	loadBack    = 70.0 // %.
	loadLeast   = 80.0 // %. What load must reach for a low end stop of the pedal to be believed.
)

// pedal is how a log's accelerator pedal reads.
type pedal struct {
	logged bool
	floor  float64 // Released.
	top    float64 // Highest reading that was held.
	on     float64 // From here the pedal counts as full, +Inf if it never does.
	off    float64 // Below here it no longer does.
}

// released tells whether a reading means that there is no foot on the pedal.
func (p pedal) released(v float64) bool { return v <= p.floor+3 }

func (s *scan) calibrate() {
	s.speed = s.speedColumn()
	s.pedal = s.pedalScale()
	s.idle = s.idleSpeed()
	s.top = s.topSpeed()
	s.geared = s.gearedRatios()
	s.centre()
}

// speedColumn picks the road speed: the output shaft has neither tyre slip nor a filter, the roller beats the vehicle's own
// word. A channel that never moves (wheels that stand on a two-wheel dyno) is none.
func (s *scan) speedColumn() string {
	best, most := "", 0
	for _, c := range []struct {
		name   string
		moving float64
	}{{"output_shaft_rpm", 100}, {"roller_speed_kmh", 2 * rolling}, {"vehicle_speed_kmh", 2 * rolling}} {
		n := 0
		for _, v := range s.frame.Column(c.name) {
			if v > c.moving {
				n++
			}
		}
		if n > most+most/4 {
			best, most = c.name, n
		}
	}
	return best
}

// held is the highest (sign 1) or lowest (sign -1) level that a column keeps for a time, the same at any rate and without
// the reach of noise; NaN when it is never logged that long.
func (s *scan) held(name string, sign, seconds float64) float64 {
	best := math.Inf(-1)
	for _, b := range s.blocks {
		x, _ := b.track(name, fastN)
		n := b.points(seconds)
		for i := 0; i+n <= len(x); i++ {
			low := math.Inf(1)
			for _, v := range x[i : i+n] {
				if v = sign * v; !(v > best) { // Also true of NaN.
					low = math.Inf(-1)
					break
				}
				low = min(low, v)
			}
			best = max(best, low)
		}
	}
	if math.IsInf(best, -1) {
		return math.NaN()
	}
	return sign * best
}

func (s *scan) pedalScale() pedal {
	p := pedal{on: math.Inf(1), off: math.Inf(1)}
	if !s.frame.Has("pedal_pct") {
		return p
	}
	p.floor, p.top = s.held("pedal_pct", -1, 0.5), s.held("pedal_pct", 1, 0.3)
	if math.IsNaN(p.top) || math.IsNaN(p.floor) {
		return p
	}
	p.logged = true
	if p.floor > pedalFree {
		p.floor = 0 // The log has no moment without a foot on it.
	}
	switch {
	case p.top >= pedalFull/pedalScaled:
		p.on = pedalFull
	case p.top >= pedalFull || s.endStop(p.top):
		p.on = pedalScaled * p.top
	default:
		if load := s.held("load_pct", 1, 0.3); p.top < 5 && load >= loadFull {
			p.logged = false
			s.find(schema.Doubt, "pedal_not_credible", "pedal_pct", fmt.Sprintf("the pedal never reads above %.0f %% while load reaches %.0f %%: "+
				"the pedal is left out of the search for pulls; correct its mapping", p.top, load), p.top, "%", math.NaN(), math.NaN())
		}
		return p
	}
	p.off = p.on - pedalBack
	if seconds := s.fullAtIdle(p.on); seconds > plateTime {
		s.find(schema.Doubt, "pedal_not_credible", "pedal_pct", fmt.Sprintf("the pedal reads full for %.0f s while the engine idles at a stand: it is taken for a throttle plate "+
			"and left out; map the accelerator pedal instead", seconds), seconds, "s", math.NaN(), math.NaN())
		return pedal{on: math.Inf(1), off: math.Inf(1)}
	}
	return p
}

// fullAtIdle is for how long a pedal reads full while the engine runs slowly and evenly and the vehicle stands.
func (s *scan) fullAtIdle(on float64) float64 {
	sum := 0.0
	for _, b := range s.blocks {
		n, slope := b.track("engine_speed_rpm", fastV)
		v, _ := b.track(s.roadColumn(), fastV)
		p, _ := b.track("pedal_pct", fastN)
		load, _ := b.track("load_pct", fastN)
		for i := range p {
			if p[i] >= on && n[i] > running && n[i] < plateSpeed && math.Abs(slope[i]) < 0.05*n[i] && !(v[i] > standing) && !(load[i] > 60) {
				sum += b.step
			}
		}
	}
	return sum
}

// endStop tells whether a pedal that reads less than 90 at most has an end stop there: it comes to rest on that very value,
// and load, where logged, agrees.
func (s *scan) endStop(top float64) bool {
	if top < pedalLowest {
		return false
	}
	near, at := 0, 0
	for _, b := range s.blocks {
		x, _ := b.track("pedal_pct", fastN)
		for _, v := range x {
			if v >= 0.9*top {
				near++
			}
			if v >= 0.97*top {
				at++
			}
		}
	}
	load := s.held("load_pct", 1, 0.3)
	if float64(at) < 0.6*float64(near) || load < loadLeast || s.held("pedal_pct", 1, 1) < 0.97*top {
		return false
	}
	s.find(schema.Doubt, "pedal_scaled", "pedal_pct", fmt.Sprintf("the pedal comes to rest at %.0f %% and never goes higher: "+
		"that is taken for its end stop; add a mapping with its factor if so", top), top, "%", math.NaN(), math.NaN())
	return true
}

// idleSpeed is the level the engine keeps to while nobody asks for anything. NaN when the log holds no such moment.
func (s *scan) idleSpeed() float64 {
	var still, any []float64
	for _, b := range s.blocks {
		n, slope := b.track("engine_speed_rpm", fastV)
		v, _ := b.track("vehicle_speed_kmh", fastV)
		p, _ := b.track("pedal_pct", fastN)
		for i := range n {
			if !(n[i] > running && n[i] < idleHighest && math.Abs(slope[i]) < 0.1*n[i]) || s.pedal.logged && !s.pedal.released(p[i]) {
				continue
			}
			any = append(any, n[i])
			if v[i] < standing {
				still = append(still, n[i])
			}
		}
	}
	if len(still) >= 20 {
		return stats.Quantile(0.25, still)
	}
	if low := stats.Quantile(0.02, any); len(any) >= 40 && low < 1100 {
		return low
	}
	return math.NaN()
}

// idles tells whether an engine speed is no more than idle. Never where the log has no idle.
func (s *scan) idles(rpm float64) bool { return rpm <= 1.15*s.idle+25 }

func (s *scan) topSpeed() float64 {
	if s.Vehicle != nil && s.Vehicle.RatedSpeedRPM > 0 {
		return s.Vehicle.RatedSpeedRPM
	}
	return s.held("engine_speed_rpm", 1, 0.2)
}

// gearedRatios are the natural logarithms of engine speed over road speed by gear, in the units of the speed column. Nil
// where the vehicle's figures do not tell them. NaN for a ratio that is not above 0.
func (s *scan) gearedRatios() []float64 {
	v := s.Vehicle
	if v == nil || len(v.GearRatios) == 0 || s.speed == "" {
		return nil
	}
	factor := 1.0
	if s.speed != "output_shaft_rpm" {
		if v.FinalDrive <= 0 || v.RollingRadiusM <= 0 {
			return nil
		}
		factor = v.FinalDrive * 1000 / 60 / (2 * math.Pi * v.RollingRadiusM) // (1/min) of the shaft a km/h.
	}
	out := schema.Missing(len(v.GearRatios))
	for i, r := range v.GearRatios {
		if r > 0 {
			out[i] = math.Log(r * factor)
		}
	}
	return out
}
