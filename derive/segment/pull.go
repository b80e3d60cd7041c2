package segment

import (
	"math"
	"sort"

	"dynolake/derive/stats"
)

// What makes a pull. Common practice, no source.
const (
	pullSpan      = 0.25  // Of rated speed; see pullSpanMost.
	pullSpanMost  = 600.0 // rpm. A span this wide is enough at any rated speed.
	pullSpanLeast = 250.0 // rpm.
	pullTime      = 1.0   // s.
	downTime      = 2.0   // s. A controlled sweep downwards takes at least this long.
	bareTime      = 1.5   // s. Without evidence of load or speed: a free rev is shorter.
	bareSpan      = 0.40  // Of the top speed, without evidence of load.
	bareReach     = 0.80  // Of the top speed that must be reached then.
	barePower     = 0.70  // Of the highest power held in the log, without evidence of load.
	liftMost      = 1.0   // s. A shorter lift interrupts a pull, a longer one ends it.
	reversal      = 0.05  // Of the engine speed. Smaller movements back are noise.
	spoolMost     = 3.0   // s. The longest stand at the start that counts as spool-up.
	startBand     = 0.02  // Of the engine speed, within which it stands.
	endBand       = 0.002 // Of the engine speed: hanging at the limiter is not part of the pull.
	dwellShare    = 0.25  // Of a leg's mean slope: slower is a halt.
	dwellTime     = 2.0   // s.
	cutBack       = 0.4   // s. The time before a shift in which a gearbox takes the torque off,
	cutRef        = 1.0   // s. and the time that tells what the power was.
	cutShare      = 0.90  // Of that power. A governor takes off as much only at the end of its range.
)

// leg is one rise (or fall) of the engine speed under full load, on the grid.
type leg struct {
	span     stats.Span
	from, to float64 // Engine speeds.
	lifted   bool
}

// pull is a pull found, before it becomes a segment.
type pull struct {
	b        *block
	span     stats.Span
	from, to float64
	lifted   bool
	bare     bool // Without evidence of load.
}

// pulls finds the pulls of a block between its shifts. Steady points and coast-downs have none.
func (s *scan) pulls(b *block, shifts []event) []pull {
	if s.Test == "steps" || s.Test == "coast" || len(s.frame.Column("engine_speed_rpm")) == 0 {
		return nil
	}
	full, lifts, bare := s.fullLoad(b)
	var cuts []stats.Span
	for _, e := range shifts {
		t0, cut := b.driveEnds(e)
		from := b.at(t0)
		if b.t[from] <= t0+1e-9 && !cut {
			from++ // The shift's own first row ends the pull.
		}
		cuts = append(cuts, stats.Span{From: from, To: max(from, b.at(e.t1))})
	}
	near, inside := b.points(0.3), lifts[:0:0]
	var between []stats.Span
	for _, gap := range lifts {
		if overlaps(cuts, gap.From-near, gap.To+near) {
			between = append(between, gap) // The lift of a shift is no lift of the pull.
		} else {
			inside = append(inside, gap)
		}
	}
	cuts, lifts = ordered(cuts, between), inside
	var out []pull
	for _, piece := range stats.Without(full, cuts) {
		for _, l := range s.legs(b, piece, lifts) {
			if p, ok := s.asPull(b, l, bare); ok {
				out = append(out, p)
			}
		}
	}
	return out
}

// driveEnds is when the drive through a gear ends before a shift: an automated gearbox takes the torque off while the engine
// speed still rises and the pedal stays down, so that the row there is no longer driven. It is the shift itself where the wheel
// power is not known or does not fall.
func (b *block) driveEnds(e event) (t0 float64, cut bool) {
	t0 = e.t0
	t, kw := b.frame.T, b.frame.Column("wheel_power_kw") // Rows as logged: a cut is short.
	if kw == nil {
		return t0, false
	}
	from := func(at float64) int { return b.row0 + stats.Lower(t[b.row0:b.row1], at) }
	behind := from(e.t0 + 1e-9)
	most, second := math.Inf(-1), math.Inf(-1) // The second highest is no spike.
	for _, v := range kw[from(e.t0-cutRef):behind] {
		if !math.IsNaN(v) {
			most, second = max(most, v), max(second, min(most, v))
		}
	}
	for i, last := behind-1, from(e.t0-cutBack); i >= last && !(kw[i] >= cutShare*second); i-- {
		if !math.IsNaN(kw[i]) {
			t0, cut = t[i], true
		}
	}
	return t0, cut
}

// fullLoad is where full load is asked for: by the pedal, else by load; with neither the whole block, as bare. Short lifts
// are bridged and returned too.
func (s *scan) fullLoad(b *block) (full, lifts []stats.Span, bare bool) {
	switch {
	case s.pedal.logged:
		p, _ := b.track("pedal_pct", fastN)
		full = stats.Hysteresis(p, s.pedal.on, s.pedal.off)
		for i := range full { // What is left of a foot on its way up is not full load.
			for full[i].To-1 > full[i].From && p[full[i].To-1] < s.pedal.on {
				full[i].To--
			}
		}
	case s.frame.Has("load_pct"):
		l, _ := b.track("load_pct", fastN)
		full = stats.Hysteresis(l, loadFull, loadBack)
		for i := range full { // While the turbo spools up load is still on its way.
			for k := b.points(2); k > 0 && full[i].From > 0 && l[full[i].From-1] > 0.5*loadFull; k-- {
				full[i].From--
			}
		}
	default:
		n, _ := b.track("engine_speed_rpm", fastN)
		return stats.Where(len(n), func(i int) bool { return n[i] > running }), nil, s.mayBeBare()
	}
	for i := 1; i < len(full); i++ {
		if gap := (stats.Span{From: full[i-1].To, To: full[i].From}); gap.Len() <= b.points(liftMost) {
			lifts = append(lifts, gap)
		}
	}
	return stats.Join(full, b.points(liftMost)), lifts, false
}

// mayBeBare tells whether a sustained acceleration may pass for a pull: on a dyno, or where the vehicle's rated speed tells how
// far it has to go. On the road without either every start would be one.
func (s *scan) mayBeBare() bool {
	dyno := s.Test == "sweep" || s.DynoKind == "inertia" || s.DynoKind == "brake" || s.frame.Has("roller_speed_kmh") || s.frame.Has("roller_force_n") ||
		s.frame.Has("wheel_torque_nm") || s.frame.Has("torque_nm")
	return dyno || s.Vehicle != nil && s.Vehicle.RatedSpeedRPM > 0
}

// legs cuts a piece of full load where the engine speed turns round or halts. A short lift, a lock-up or a spinning tyre
// that sets it back for a moment does not cut.
func (s *scan) legs(b *block, piece stats.Span, lifts []stats.Span) []leg {
	half := min(max(float64(piece.Len())*b.step/8, 0.1), 0.5)
	n := s.smoothSpeed(b, piece, half)
	least := reversal * orZero(stats.Median(n))
	turns := stats.Turns(n, max(least, 60))
	var legs []leg
	for i := 1; i < len(turns); i++ {
		a, z := turns[i-1].At, turns[i].At
		legs = append(legs, leg{span: stats.Span{From: piece.From + a, To: piece.From + z + 1}, from: n[a], to: n[z]})
	}
	legs = s.joinLegs(b, legs, lifts)
	var out []leg
	for _, l := range legs {
		out = append(out, b.halts(l, n[l.span.From-piece.From:l.span.To-piece.From])...)
	}
	for i := range out {
		if i == 0 && out[i].from < out[i].to { // What comes before the lowest speed is spool-up.
			out[i].span.From = piece.From
		}
		b.trim(&out[i], n[out[i].span.From-piece.From:])
		out[i].lifted = overlaps(lifts, out[i].span.From+1, out[i].span.To-1)
	}
	return out
}

// smoothSpeed is the engine speed fitted within a piece alone, so that a shift beside it does not round its end.
func (s *scan) smoothSpeed(b *block, piece stats.Span, half float64) []float64 {
	c := b.cellsOf("engine_speed_rpm")
	t0, t1 := b.t[piece.From], b.t[piece.To-1]
	from, to := stats.Lower(c.t, t0-1e-9), stats.Lower(c.t, t1+1e-9)
	in := cells{t: c.t[from:to], x: c.x[from:to], w: c.w[from:to], gap: c.gap}
	inner := &block{t: b.t[piece.From:piece.To]}
	n, _ := inner.fit(in, half)
	return n
}

// joinLegs joins two rises over a short fall between them that a lift, a lock-up or the tyre explains.
func (s *scan) joinLegs(b *block, legs []leg, lifts []stats.Span) []leg {
	for i := 0; i+2 < len(legs); {
		a, dip, z := legs[i], legs[i+1], legs[i+2]
		short := dip.span.Len() <= b.points(liftMost+stepHalf)
		if a.from < a.to && z.from < z.to && short && s.explained(b, dip, lifts) && z.to > a.to {
			legs[i] = leg{span: stats.Span{From: a.span.From, To: z.span.To}, from: min(a.from, z.from), to: z.to}
			legs = append(legs[:i+1], legs[i+3:]...)
			continue
		}
		i++
	}
	return legs
}

func (s *scan) explained(b *block, dip leg, lifts []stats.Span) bool {
	near := b.points(0.5)
	if overlaps(lifts, dip.span.From-near, dip.span.To+near) || overlaps(b.lockups, dip.span.From-near, dip.span.To+near) {
		return true
	}
	return dip.to > 0.88*dip.from // A tyre that grips again, or the converter without a flag; a gear is further away.
}

// overlaps tells whether one of ordered spans touches the indices from from to behind to.
func overlaps(spans []stats.Span, from, to int) bool {
	i := sort.Search(len(spans), func(i int) bool { return spans[i].To > from })
	return i < len(spans) && spans[i].From < to
}

// halts cuts a leg where the engine speed stands for seconds, as on a brake dyno that goes from step to step.
func (b *block) halts(l leg, n []float64) []leg {
	seconds := float64(len(n)) * b.step
	if seconds < 3*dwellTime {
		return []leg{l}
	}
	slope := slopes(n, b.step, b.points(min(max(0.05*seconds, 0.5), 2)))
	limit := dwellShare * math.Abs(l.to-l.from) / seconds
	stands := stats.Where(len(n), func(i int) bool { return math.Abs(slope[i]) < limit })
	stands = stats.Longer(stands, b.points(dwellTime))
	var inner []stats.Span
	for _, w := range stands {
		if w.From > b.points(dwellTime) && w.To < len(n)-b.points(dwellTime) {
			inner = append(inner, w)
		}
	}
	var out []leg
	for _, w := range stats.Without([]stats.Span{{From: 0, To: len(n)}}, inner) {
		out = append(out, leg{span: stats.Span{From: l.span.From + w.From, To: l.span.From + w.To}, from: n[w.From], to: n[w.To-1]})
	}
	return out
}

// trim takes a long stand off the start, and what hangs at the end; n is the smoothed speed from the leg's start on.
func (b *block) trim(l *leg, n []float64) {
	sign := 1.0
	if l.to < l.from {
		sign = -1
	}
	leave := 0
	for i := range l.span.Len() {
		if sign*(n[i]-l.from) <= startBand*l.from {
			leave = i
		}
	}
	end := leave
	for end < l.span.Len()-1 && sign*(l.to-n[end]) > endBand*l.to {
		end++
	}
	l.span = stats.Span{From: l.span.From + max(0, leave-b.points(spoolMost)), To: l.span.From + end + 1}
}

// asPull tells whether a leg is a pull: wide and long enough, in a gear, and not a free rev.
func (s *scan) asPull(b *block, l leg, bare bool) (pull, bool) {
	p := pull{b: b, span: l.span, from: l.from, to: l.to, lifted: l.lifted}
	seconds, wide := float64(l.span.Len()-1)*b.step, math.Abs(l.to-l.from)
	need := max(min(pullSpanMost, pullSpan*s.top), pullSpanLeast)
	if math.IsNaN(s.top) || wide < need || seconds < pullTime {
		return p, false
	}
	if l.to < l.from && !s.mayFall(b, l, seconds) {
		return p, false
	}
	v, _ := b.track(s.speed, fastV)
	moves := s.speed != "" && highest(v[l.span.From:l.span.To]) > rolling
	if s.speed != "" && !moves && b.frameHas(s.speed, l.span) {
		return p, false // The engine revs, the vehicle stands.
	}
	if !s.pedal.logged && !s.frame.Has("load_pct") {
		reach := max(l.from, l.to)
		if !bare || seconds < bareTime || wide < max(need, bareSpan*s.top) || reach < bareReach*s.top || !s.strong(b, l) {
			return p, false
		}
		p.bare = true
	}
	return p, moves || seconds >= bareTime
}

// mayFall tells whether a fall of the engine speed at full load is a controlled sweep downwards: on a dyno that brakes, slowly,
// with the speed ratio unchanged.
func (s *scan) mayFall(b *block, l leg, seconds float64) bool {
	if seconds < downTime || s.Test == "road" || s.DynoKind == "inertia" || !s.pedal.logged && !s.frame.Has("load_pct") {
		return false
	}
	if s.Test != "sweep" && s.DynoKind != "brake" {
		return false
	}
	r := s.ratio(b)[l.span.From:l.span.To]
	move := math.Abs(math.Log(l.to / l.from))
	return !(highest(r)-lowest(r) > 0.3*move) // Also true without a road speed.
}

// strong tells whether the wheel power, where known, comes near to the highest that the log holds: an acceleration at half of it is
// a drive to the start of a pull.
func (s *scan) strong(b *block, l leg) bool {
	kw, _ := b.track("wheel_power_kw", fastV)
	most := highest(kw[l.span.From:l.span.To])
	return !(most < barePower*s.held("wheel_power_kw", 1, 0.3)) // Also true without a power.
}

func (b *block) frameHas(name string, span stats.Span) bool {
	x, _ := b.track(name, fastV)
	return !math.IsNaN(highest(x[span.From:span.To]))
}
