package segment

import (
	"cmp"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

const (
	momentBack = 0.5  // s before the speed falls in which its highest value is looked for.
	footShare  = 0.20 // Of a fall, between which and its counterpart at the end it is taken for straight.
	steepReach = 0.8  // s around a logged change.
	climbBack  = 1.0  // s. A foot that lifts before the clutch opens lets the speed fall earlier by at most this.
	climbSlope = 0.05 // 1/s. Slower falls belong to the drive before.
)

// moment finds, on the rows as logged, when the engine speed begins to fall (up true) or rise around a step between the
// times ta and tb, and its highest or lowest logged value in the 0.5 s before that.
func (s *scan) moment(b *block, up bool, ta, tb float64) event {
	n, slope := b.track("engine_speed_rpm", fastN)
	sign := 1.0
	if !up {
		sign = -1
	}
	lo, hi := b.at(ta-0.3), b.at(tb+0.3)
	mid := lo // The steepest place.
	for i := lo; i <= hi; i++ {
		if sign*slope[i] < sign*slope[mid] || math.IsNaN(slope[mid]) {
			mid = i
		}
	}
	top, bottom := mid, mid
	for i := lo; i <= mid; i++ {
		if sign*n[i] > sign*n[top] {
			top = i
		}
	}
	for i := mid; i <= hi; i++ {
		if sign*n[i] < sign*n[bottom] {
			bottom = i
		}
	}
	first := b.at(b.t[top] - climbBack)
	for top > first && sign*n[top-1] >= sign*n[top] && -sign*slope[top] > climbSlope*n[top] {
		top-- // The speed was falling before the ratio changed.
	}
	foot := max(b.onset(n, top, bottom), b.t[top])
	e := event{from: math.NaN(), to: math.NaN(), rpm: math.NaN(), t0: foot, t1: max(b.t[bottom], foot)}
	s.extreme(b, sign, foot, b.t[mid], &e)
	return e
}

// onset is when a movement from the value at top to that at bottom began: where the line through its first and its last fifth
// meets the level before. Noise hardly moves it.
func (b *block) onset(n []float64, top, bottom int) float64 {
	cross := func(share float64) float64 {
		level := n[top] + share*(n[bottom]-n[top])
		for i := top + 1; i <= bottom; i++ {
			if (n[i]-level)*(n[bottom]-n[top]) >= 0 {
				return b.t[i] - (n[i]-level)/(n[i]-n[i-1])*b.step
			}
		}
		return b.t[bottom]
	}
	early, late := cross(footShare), cross(1-footShare)
	return early - footShare/(1-2*footShare)*(late-early)
}

// extreme sets t0 and rpm to the row with the highest (sign 1) or lowest logged speed from 0.5 s before the foot of the
// movement to its middle; of equal rows to the last. A log with no row there gives its last row before.
func (s *scan) extreme(b *block, sign, foot, mid float64, e *event) {
	t, rpm := s.frame.T, s.frame.Column("engine_speed_rpm")
	if rpm == nil {
		return
	}
	before := -1
	for i := b.row0 + stats.Lower(t[b.row0:b.row1], foot-momentBack-1e-9); i < b.row1 && t[i] <= mid+1e-9; i++ {
		if v := rpm[i]; !math.IsNaN(v) && (before < 0 || sign*v >= sign*rpm[before]) {
			before = i
		}
	}
	for i := b.row0 + stats.Lower(t[b.row0:b.row1], foot); before < 0 && i > b.row0; i-- {
		if !math.IsNaN(rpm[i-1]) && foot-t[i-1] <= b.cellsOf("engine_speed_rpm").gap {
			before = i - 1
		}
	}
	if before >= 0 {
		e.t0, e.rpm = t[before], rpm[before]
		e.t1 = max(e.t1, e.t0)
	}
}

// steepest looks for the moment of a logged change where the speed ratio says nothing: the steepest movement of the engine
// speed in the right direction near it and within the free time, else the change itself, with the channel's lag taken off.
func (s *scan) steepest(b *block, c change, lag float64, free [2]float64) event {
	_, slope := b.track("engine_speed_rpm", fastN)
	n, _ := b.track("engine_speed_rpm", fastN)
	sign := 1.0
	if !c.up() {
		sign = -1
	}
	lo, hi, best := b.at(max(c.leave-lag-steepReach, free[0])), b.at(min(c.enter-lag+steepReach, free[1])), -1
	for i := lo; i <= hi; i++ {
		if -sign*slope[i] > 0.15*n[i] && (best < 0 || sign*slope[i] < sign*slope[best]) {
			best = i
		}
	}
	if best >= 0 {
		return s.moment(b, c.up(), b.t[max(lo, best-b.points(0.3))], b.t[min(hi, best+b.points(0.3))])
	}
	e := event{from: c.from, to: c.to, rpm: math.NaN(), t0: b.t[b.at(c.enter-lag)]}
	e.t1 = e.t0
	s.extreme(b, sign, e.t0, e.t0, &e)
	return e
}

// inOrder sorts shifts and drops one that begins inside another.
func inOrder(events []event) []event {
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Compare(a.t0, b.t0) })
	var out []event
	for _, e := range events {
		if k := len(out) - 1; k >= 0 && e.t0 < out[k].t1-1e-9 {
			if math.IsNaN(out[k].from) && !math.IsNaN(e.from) {
				out[k].from, out[k].to = e.from, e.to
			}
			continue
		}
		out = append(out, e)
	}
	return out
}

// Shifts from the engine speed alone. Common practice, no source.
const (
	dropRate  = 0.25 // 1/s. Slower falls are a brake's or a hill's.
	dropLeast = 0.11
	dropMost  = 0.60
	dropLong  = 1.5 // s.
	dropPedal = 50.0
)

// drops finds upshifts where neither gear nor road speed is logged: under a pressed pedal the engine speed rises, falls fast
// by a gear's step and rises on. Downshifts cannot be told this way. Steps on a brake dyno look alike and have none.
func (s *scan) drops(b *block) []event {
	if s.Test == "steps" || s.Test == "coast" {
		return nil
	}
	n, slope := b.track("engine_speed_rpm", fastN)
	_, wide := b.track("engine_speed_rpm", fastV)
	pedal, _ := b.track("pedal_pct", fastN)
	var out []event
	for _, m := range stats.Where(len(n), func(i int) bool { return -slope[i] > dropRate*n[i] && n[i] > running }) {
		pre, post := m.From-b.points(0.8), m.To+b.points(0.8)
		if pre < 0 || post >= len(n) || float64(m.Len())*b.step > dropLong {
			continue
		}
		high, low := highest(n[pre:m.To]), lowest(n[m.From:post])
		rises := wide[pre] > 0 && wide[post] > 0
		pressed := !s.pedal.logged || pedal[pre] > dropPedal && highest(pedal[m.To:min(len(n), m.To+b.points(2))]) > dropPedal
		if fall := math.Log(high / low); rises && pressed && !s.idles(low) && fall > dropLeast && fall < dropMost {
			out = append(out, s.moment(b, true, b.t[m.From], b.t[m.To-1]))
		}
	}
	if len(out) > 0 {
		s.find(schema.Doubt, "shift_from_engine_speed_alone", "engine_speed_rpm", "neither gear nor road speed is logged: upshifts are found from falls of the engine speed "+
			"alone and have no gears", float64(len(out)), "", out[0].t0, out[len(out)-1].t0)
	}
	return out
}
