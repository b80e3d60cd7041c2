package mapping

import (
	"math"
	"slices"
)

// rest is a stretch of time in which the engine stands still or idles, on the common clock.
type rest struct {
	t0, t1  float64
	stopped bool
}

const (
	stoppedBelow = 50.0   // rpm; below it the engine does not turn.
	idleFrom     = 350.0  // rpm.
	idleSure     = 1250.0 // rpm; with the pedal up and the wheels still.
	idleAlone    = 950.0  // rpm; where neither pedal nor road speed is logged, and only while the speed is steady.
	standing     = 3.0    // km/h.
	restLeast    = 1.0    // s; a shorter stretch may be a gap in the signal.
	settling     = 2.0    // s that a manifold is given to empty after the engine comes to rest.
)

// rests finds the stretches of rest that a log can be judged by: by its own engine speed, else by another recorder's.
func (b *bench) rests(log int) []rest {
	if r, ok := b.states[log]; ok {
		return r
	}
	var out []rest
	calm := b.calm(log)
	if i := b.nearby("engine_speed_rpm", log); i >= 0 {
		out = b.restsOf(b.trace(i), func(v, t float64) int {
			quiet, known := calm.at(t)
			switch {
			case v < stoppedBelow && v > -stoppedBelow:
				return stopped
			case v >= idleFrom && v <= idleSure && quiet && known:
				return idling
			case v >= idleFrom && v <= idleAlone && quiet:
				return idlingAlone
			}
			return running
		})
	} else if i := b.road(log); i >= 0 { // No engine speed at all: wheels that stand still with the pedal up.
		out = b.restsOf(b.trace(i), func(v, t float64) int {
			if quiet, _ := calm.at(t); quiet && v <= 1 {
				return idling
			}
			return running
		})
	}
	b.states[log] = out
	return out
}

const (
	running = iota
	stopped
	idling
	idlingAlone
)

// restsOf gathers neighbouring samples of one state. A stretch that follows a running engine loses its first seconds, in which
// the manifold still empties.
func (b *bench) restsOf(tr trace, state func(v, t float64) int) []rest {
	var out []rest
	from, now := 0, running
	flush := func(to int) {
		if now == running || to <= from {
			return
		}
		r := rest{t0: tr.t[from], t1: tr.t[to-1], stopped: now == stopped}
		if now == idlingAlone && slices.Max(tr.v[from:to])-slices.Min(tr.v[from:to]) > 150 {
			return
		}
		if from > 0 && r.t1-r.t0 > 2*settling {
			r.t0 += settling
		}
		if r.t1-r.t0 >= restLeast {
			out = append(out, r)
		}
	}
	for k := range tr.t {
		s := state(tr.v[k], tr.t[k])
		if s != now || (k > 0 && tr.t[k]-tr.t[k-1] > 2*tr.reach) {
			flush(k)
			from, now = k, s
		}
	}
	flush(len(tr.t))
	return out
}

func (b *bench) road(log int) int {
	for _, column := range []string{"roller_speed_kmh", "vehicle_speed_kmh"} {
		if i := b.nearby(column, log); i >= 0 {
			return i
		}
	}
	return -1
}

// calm is what a log's idling is told by beside engine speed: traces without values where not logged.
type calm struct {
	pedal, road trace
	floor       float64 // What the pedal reads when it is up: 7 or 15 % with some sensors.
}

func (b *bench) calm(log int) calm {
	var c calm
	if i := b.nearby("pedal_pct", log); i >= 0 {
		c.pedal = b.trace(i)
		if c.floor = c.pedal.quantile(0.02); c.floor >= 25 {
			c.pedal = trace{} // It is never up in this log.
		}
	}
	if i := b.road(log); i >= 0 {
		c.road = b.trace(i)
	}
	return c
}

// at reports whether pedal and wheels allow that the engine idles at a time, and whether either of them is known.
func (c calm) at(t float64) (quiet, known bool) {
	pedal, road := c.pedal.at(t), c.road.at(t)
	quiet = !(pedal > c.floor+3) && !(math.Abs(road) > standing)
	return quiet, !math.IsNaN(pedal) || !math.IsNaN(road)
}

// atRest gives what a channel reads with the engine stopped, else idling, and how many values that rests on.
func (b *bench) atRest(i int) (reading float64, stop bool, n int) {
	for _, stop := range []bool{true, false} {
		if v := b.restValues(i, stop); len(v) >= 2 {
			return median(v), stop, len(v)
		}
	}
	return math.NaN(), false, 0
}

func (b *bench) restValues(i int, stop bool) []float64 {
	tr := b.trace(i)
	var v []float64
	for _, r := range b.rests(b.claims[i].Log) {
		if r.stopped == stop {
			v = append(v, tr.within(r.t0, r.t1)...)
		}
	}
	return v
}
