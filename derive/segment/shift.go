package segment

import (
	"fmt"
	"math"
	"sort"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// What makes a step of the speed ratio a shift. Common practice, no source.
const (
	shiftLeast     = 0.11 // The closest gears of a road vehicle are 12 % apart, less what the fit takes off.
	unmatchedLeast = 0.20 // A step that no pair of the vehicle's ratios explains must be as large as this.
	lockupMost     = 0.13 // Without gear, ratios or lock-up flag, a smaller fall is the converter's.
	lockupFlag     = 0.35 // Largest fall that a lock-up flag explains.
	lockupLeast    = 0.03 // Below it a fall is drift or noise.
	fallLeast      = 0.04 // The engine speed itself moves in a shift, not the road speed alone.
	fallShare      = 0.45 // Of the step: the rest is the road speed that grows meanwhile.
	riseShare      = 0.20 // The same downwards, where the brake may be on.
	driftMost      = 0.5  // Of the step, in the time before it.
	pedalMoves     = 0.20 // A pedal that comes or goes changes the converter's slip by less than this.
	gearLag        = 1.3  // s. A logged gear leads or lags the engine speed by no more.
	stepTwo        = 2.0  // s. What moves longer may be more than one shift.
	gearSame       = 0.04 // A ratio that moves by less has not changed gear.
	gearFall       = 0.02 // What the engine speed itself moves at least when a logged gear changes,
	gearFallShare  = 0.10 // and as a share of the step: with an open converter the road speed grows most of it.
)

// event is a shift as found, before it becomes a segment.
type event struct {
	from, to float64 // Gears, NaN when unknown.
	t0, t1   float64
	rpm      float64
}

// shifts finds the shifts and lock-ups of a block, adds them as segments and returns the shifts.
func (s *scan) shifts(b *block) []event {
	steps := s.steps(b, stepSlope)
	rests := b.rests()
	changes := s.trusted(b, joinChanges(b.changes(), steps, b), rests, steps)
	var events []event
	late := lag(b, changes, steps)
	pairs := pair(b, changes, steps, late)
	for i, c := range changes {
		if e, ok := s.fromGear(b, c, pairs[i], late, between(b, pairs, i)); ok {
			events = append(events, e)
		}
	}
	for i := range steps {
		if p := &steps[i]; !p.used && s.isShift(b, *p, rests) {
			p.used = true
			e := s.moment(b, p.delta() < 0, b.t[p.from], b.t[min(p.to, len(b.t)-1)])
			e.from, e.to = p.matchFrom, p.matchTo
			if math.IsNaN(e.from) {
				s.findOnce(schema.Note, "gears_not_numbered", s.speed, fmt.Sprintf("a shift at %.1f s takes engine speed over %s from %.4g to %.4g, but neither the gear nor fitting "+
					"gear ratios are known: gears stay empty; log the gear or give gear_ratios, final_drive and rolling_radius (value counts them)",
					e.t0, s.speed, math.Exp(p.pre), math.Exp(p.post)), e.t0, e.t1)
			}
			events = append(events, e)
		}
	}
	if s.speed == "" && len(changes) == 0 && !b.frame.Has("gear") {
		events = append(events, s.drops(b)...)
	}
	events = inOrder(events)
	for _, e := range events {
		s.addShift(b, e)
	}
	s.lockups(b, events, rests)
	return events
}

// joinChanges makes one of changes that pass through gears on the way: the same direction, close together, one step, and no
// engine that pulls in between.
func joinChanges(changes []change, steps []step, b *block) []change {
	var out []change
	for _, c := range changes {
		k := len(out) - 1
		if k >= 0 && c.from == out[k].to && (c.to-c.from)*(out[k].to-out[k].from) > 0 && c.enter-out[k].enter <= gearLag {
			n := 0
			for _, p := range b.near(steps, out[k].leave-gearLag, c.enter+gearLag) {
				if t := b.t[(p.from+p.to)/2]; t > out[k].leave-gearLag && t < c.enter+gearLag && p.delta()*(c.to-c.from) < 0 && math.Abs(p.delta()) >= shiftLeast {
					n++
				}
			}
			if n == 1 && (!c.up() || len(b.rises(b.at(out[k].leave-levelTime), b.at(c.enter+levelTime), fallLeast)) == 0) {
				out[k].to, out[k].enter = c.to, c.enter
				continue
			}
		}
		out = append(out, c)
	}
	return out
}

// trusted drops every change when the gear channel stands still while the engine plainly shifts: it is a selector then.
func (s *scan) trusted(b *block, changes []change, rests []rest, steps []step) []change {
	if len(changes) > 0 || len(rests) == 0 {
		return changes
	}
	n := 0
	for _, p := range steps {
		if !p.freeBefore && !p.freeAfter && p.delta() < -0.2 && p.fall < -0.15 && (p.matchFrom != p.matchTo) {
			n++
		}
	}
	if n >= 2 {
		s.find(schema.Doubt, "gear_contradicted", "gear", fmt.Sprintf("the gear stays at %.0f while engine speed over road speed falls %d times as in an upshift: "+
			"the gear is taken for a selector's and shifts are found from the speeds", rests[0].gear, n), float64(n), "", b.t[0], b.t[len(b.t)-1])
		for i := range rests {
			rests[i].gear = math.NaN()
		}
	}
	return nil
}

// fromGear finds when a change of the logged gear happened, the channel showing it about lag late, from the step that answers it,
// nil where none does: then it is looked for in the time that the other changes leave. It is false when the speeds show that
// nothing changed.
func (s *scan) fromGear(b *block, c change, p *step, lag float64, free [2]float64) (event, bool) {
	var e event
	if p != nil {
		p.used = true
		ta, tb := b.t[p.from], b.t[min(p.to, len(b.t)-1)]
		if tb-ta > stepTwo { // Two shifts in a noisy log may have run together: the gear tells them apart.
			mid := (c.leave+c.enter)/2 - lag
			ta, tb = max(ta, mid-stepTwo/2), min(tb, mid+stepTwo/2)
			p.used = false
		}
		e = s.moment(b, c.up(), ta, max(ta, tb))
	} else if s.unchanged(b, c) {
		s.findOnce(schema.Note, "gear_change_without_ratio_change", "gear", fmt.Sprintf("the gear goes from %.0f to %.0f at %.1f s but engine speed over road speed stays: "+
			"not a shift (value counts them)", c.from, c.to, c.enter), c.leave, c.enter)
		return e, false
	} else if v, _ := b.track(s.roadColumn(), fastV); s.speed != "" && v[b.at(c.enter-lag)] < standing {
		return e, false // A gear chosen at a stand.
	} else {
		e = s.steepest(b, c, lag, free)
	}
	e.from, e.to = c.from, c.to
	return e, true
}

// fits scores how well a step of the ratio answers a change of the gear: by its size, by when it comes, and by the vehicle's
// ratios where known. It is -Inf for a step that cannot be this change.
func (c change) fits(b *block, p step, lag float64) float64 {
	t := b.t[(p.from+p.to)/2]
	if t < c.leave-gearLag || t > c.enter+gearLag || (p.delta() < 0) != c.up() || math.Abs(p.delta()) < gearSame {
		return math.Inf(-1)
	}
	if p.fall*p.delta() <= 0 || math.Abs(p.fall) < max(gearFall, gearFallShare*math.Abs(p.delta())) {
		return math.Inf(-1) // The converter took up while the engine kept its speed.
	}
	score := min(math.Abs(p.delta()), 0.2) - 0.2*math.Abs(t+lag-(c.leave+c.enter)/2)
	switch {
	case p.matchFrom == c.from && p.matchTo == c.to:
		score += 0.2
	case p.matchFrom == p.matchTo: // False of NaN.
		score -= 0.2 // A lock-up by the ratios, but an open converter can hide a gear.
	}
	return score
}

// lag is how late, in seconds, the gear channel shows what the speeds show: the one delay that most changes agree on.
func lag(b *block, changes []change, steps []step) float64 {
	const tries = 13 // Either way.
	sums := make([]float64, 2*tries+1)
	for _, c := range changes {
		near := b.near(steps, c.leave-gearLag, c.enter+gearLag)
		for k := range sums {
			most := 0.0
			for _, p := range near {
				most = max(most, c.fits(b, p, float64(k-tries)*gearLag/tries))
			}
			sums[k] += most
		}
	}
	best := tries
	for k := range sums {
		sums[k] -= 0.02 * math.Abs(float64(k-tries)) / tries // No lag, unless there is one.
		if sums[k] > sums[best] {
			best = k
		}
	}
	return float64(best-tries) * gearLag / tries
}

// unchanged tells whether the speed ratio is the same before and after a logged change, with a gear engaged and the foot on
// the pedal, so that no gear can have changed.
func (s *scan) unchanged(b *block, c change) bool {
	r := s.ratio(b)
	n, _ := b.track("engine_speed_rpm", fastN)
	pedal, _ := b.track("pedal_pct", fastN)
	around := func(t0, t1 float64) float64 { return stats.Median(r[b.at(t0) : b.at(t1)+1]) }
	for i := b.at(c.leave - gearLag); i <= b.at(c.enter+gearLag); i++ {
		if math.IsNaN(r[i]) || s.idles(n[i]) || s.pedal.logged && s.pedal.released(pedal[i]) {
			return false
		}
	}
	pre, post := around(c.leave-gearLag-0.3, c.leave-gearLag+0.3), around(c.enter+gearLag-0.3, c.enter+gearLag+0.3)
	return math.Abs(post-pre) < gearSame
}

// isShift tells whether a step of the ratio is a shift, where no logged change claims it.
func (s *scan) isShift(b *block, p step, rests []rest) bool {
	d := math.Abs(p.delta())
	if d < shiftLeast || b.t[min(p.to, len(b.t)-1)]-b.t[p.from] > stepLong || p.freeBefore || p.freeAfter || p.unmatched && d < unmatchedLeast {
		return false
	}
	if !p.moves() {
		return false
	}
	if gearLogged(rests, b.t[p.from], b.t[min(p.to, len(b.t)-1)]) {
		return false // And no change of it belongs to this step.
	}
	if !math.IsNaN(p.matchFrom) {
		return p.matchFrom != p.matchTo
	}
	return b.likeShift(p)
}

// likeShift tells a shift from a converter that locks, opens or slips where neither gear nor ratios are known.
func (b *block) likeShift(p step) bool {
	d := math.Abs(p.delta())
	pedal, _ := b.track("pedal_pct", fastN)
	lo, hi := max(0, p.from-b.points(0.3)), min(len(pedal)-1, p.to+b.points(0.3))
	if moved := pedal[hi] - pedal[lo]; math.Abs(moved) > 25 && moved*p.delta() > 0 && d < pedalMoves {
		return false // The converter gives way when the pedal comes, and recovers when it goes.
	}
	if p.delta() < 0 && d <= lockupFlag && b.locks(b.t[p.from]-0.7, b.t[min(p.to, len(b.t)-1)]+0.7) {
		return false
	}
	return p.delta() > 0 || d > lockupMost
}

// moves tells whether the engine speed itself moves with the ratio, and the ratio rests before and after: in a launch it is on
// its way all the time.
func (p step) moves() bool {
	d, share := math.Abs(p.delta()), fallShare
	if p.delta() > 0 {
		share = riseShare
	}
	for _, drift := range p.drift {
		if drift*p.delta() > 0 && math.Abs(drift) > driftMost*d {
			return false
		}
	}
	return math.Abs(p.fall) >= max(fallLeast, share*d) && p.fall*p.delta() > 0
}

// gearLogged tells whether a believed gear is logged on both sides of a step, within the lag of such a channel.
func gearLogged(rests []rest, t0, t1 float64) bool {
	before, after := false, false
	near := sort.Search(len(rests), func(i int) bool { return rests[i].t1 >= t0-gearLag })
	for _, r := range rests[near:] {
		if r.t0 > t1+gearLag {
			break
		}
		before = before || r.gear > 0 && r.t0 <= t0 && r.t1 >= t0-gearLag
		after = after || r.gear > 0 && r.t1 >= t1 && r.t0 <= t1+gearLag
	}
	return before && after
}

func (s *scan) addShift(b *block, e event) {
	seg := s.add(b, KindShift, e.t0, max(e.t1, e.t0))
	if seg == nil {
		return
	}
	locked := stateAt(s.frame, "converter_locked_frac", b.row0, b.row1, e.t0)
	seg.Shift = &schema.Shift{FromGear: e.from, ToGear: e.to, EngineSpeedRPM: e.rpm, PedalPct: s.valueAt(b, "pedal_pct", e.t0-0.5), Locked: yesNo(locked)}
}

// yesNo turns a share into 1, 0 or NaN.
func yesNo(share float64) float64 {
	switch {
	case math.IsNaN(share):
		return share
	case share >= 0.5:
		return 1
	}
	return 0
}

// valueAt is a column's value at a time, drawn between its rows; NaN across a gap and before the first.
func (s *scan) valueAt(b *block, name string, t float64) float64 {
	c := b.cellsOf(name)
	if len(c.t) == 0 || t < b.t[0] {
		return math.NaN()
	}
	v, _ := c.between(stats.Lower(c.t, t), t)
	return v
}
