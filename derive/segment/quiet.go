package segment

import (
	"math"
	"slices"

	"dynolake/derive/stats"
)

// Regeneration, idle and steady running. Common practice, no source.
const (
	regenOn   = 0.5
	regenOff  = 0.25
	regenRest = 2.0  // s. A shorter break is flicker of the flag.
	regenTime = 1.0  // s.
	idleTime  = 2.0  // s.
	idleBand  = 0.20 // Of the idle speed: cold or regenerating engines idle faster, and say so by it.
	steadyFor = 3.0  // s.
	steadyN   = 0.02 // Of the engine speed, either way, and at least
	steadyMin = 25.0 // rpm.
	steadyP   = 5.0  // Points of pedal or load either way.
	steadyT   = 0.05 // Of the highest torque either way.
	steadyAvg = 0.5  // s. Half width over which both are smoothed.
)

// regen adds where the filter regenerates.
func (s *scan) regen(b *block) {
	name := "regen_active_frac" // The state, where it has been derived.
	if !s.frame.Has(name) {
		name = "regen_frac"
	}
	x, _ := b.track(name, 0)
	spans := stats.Join(stats.Hysteresis(x, regenOn, regenOff), b.points(regenRest))
	for _, r := range stats.Longer(spans, b.points(regenTime)) {
		s.addSpan(b, KindRegen, r)
	}
}

// quiet adds what fills the time between pulls and shifts: idle, brake, coast, steady, in this order, none over another.
func (s *scan) quiet(b *block, shifts []event, pulls []pull) {
	var taken []stats.Span
	for _, p := range pulls {
		if p.b == b {
			taken = append(taken, p.span)
		}
	}
	idle := stats.Longer(stats.Without(s.idling(b), taken), b.points(idleTime))
	brake := stats.Longer(stats.Without(s.braking(b), taken), b.points(brakeTime))
	taken = ordered(taken, idle, brake)
	coast := stats.Longer(stats.Without(s.coasting(b), taken), b.points(coastTime))
	for _, e := range shifts {
		taken = append(taken, stats.Span{From: b.at(e.t0), To: b.at(e.t1) + 1})
	}
	taken = ordered(taken, coast)
	free := stats.Without([]stats.Span{{From: 0, To: len(b.t)}}, taken)
	for kind, spans := range map[string][]stats.Span{KindIdle: idle, KindBrake: brake, KindCoast: coast, KindSteady: s.steady(b, free)} {
		for _, w := range spans {
			s.addSpan(b, kind, w)
		}
	}
}

func ordered(lists ...[]stats.Span) []stats.Span {
	out := slices.Concat(lists...)
	slices.SortFunc(out, func(a, b stats.Span) int { return a.From - b.From })
	return out
}

// idling is where the engine runs by itself: no foot on the pedal, near the log's idle speed, the vehicle all but standing.
func (s *scan) idling(b *block) []stats.Span {
	if math.IsNaN(s.idle) {
		return nil
	}
	n, _ := b.track("engine_speed_rpm", steadyAvg)
	p, _ := b.track("pedal_pct", fastN)
	v, _ := b.track(s.roadColumn(), fastV)
	spans := stats.Where(len(n), func(i int) bool {
		near := n[i] > running && math.Abs(n[i]-s.idle) < idleBand*s.idle
		return near && !(s.pedal.logged && p[i] > s.pedal.floor+5) && !(v[i] > standing)
	})
	return stats.Join(spans, b.points(0.5))
}

// steady is where engine speed and load stay within a band, inside the free spans: the longest stretches first found from
// the left, without standing engines.
func (s *scan) steady(b *block, free []stats.Span) []stats.Span {
	n, _ := b.track("engine_speed_rpm", steadyAvg)
	load, band := s.loadOf(b)
	var out []stats.Span
	least := b.points(steadyFor) + 1
	for _, f := range free {
		for from := f.From; from+least <= f.To; {
			to := b.within(n, load, band, from, f.To)
			if to-from >= least {
				out = append(out, stats.Span{From: from, To: to})
				from = to
				continue
			}
			from += max(1, b.points(0.1))
		}
	}
	return out
}

// loadOf is what tells load and its band, nil without such a column.
func (s *scan) loadOf(b *block) (x []float64, band float64) {
	for _, c := range []struct {
		name string
		band float64
	}{{"pedal_pct", steadyP}, {"load_pct", steadyP}, {"engine_torque_nm", 0}, {"torque_nm", 0}, {"inj_mg", 0}, {"fuel_kg_h", 0}} {
		if c.name == "pedal_pct" && !s.pedal.logged || !s.frame.Has(c.name) {
			continue
		}
		x, _ := b.track(c.name, steadyAvg)
		if c.band == 0 {
			c.band = steadyT * math.Abs(orZero(s.held(c.name, 1, 0.5)))
		}
		return x, c.band
	}
	return nil, 0
}

// within is how far from a grid index on engine speed and load stay within their bands, at most up to end.
func (b *block) within(n, load []float64, band float64, from, end int) int {
	lo, hi, low, high := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for i := from; i < end; i++ {
		lo, hi = min(lo, n[i]), max(hi, n[i])
		if !(n[i] > running) || hi-lo > 2*max(steadyN*lo, steadyMin) {
			return i
		}
		if load != nil {
			low, high = min(low, load[i]), max(high, load[i])
			if math.IsNaN(load[i]) || high-low > 2*band {
				return i
			}
		}
	}
	return end
}
