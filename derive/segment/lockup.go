package segment

import (
	"math"
	"sort"

	"dynolake/derive/stats"
)

// A lock-up flag is on from here; the share may ramp while the clutch takes up.
const (
	lockOn   = 0.6
	lockOff  = 0.4
	lockRest = 0.3 // s. Shorter is flicker.
	lockLong = 2.0 // s. What a clutch takes to lock, at most.
)

// lockings are the times at which the logged lock-up goes from open to locked, and when it began to.
func (b *block) lockings() [][2]float64 {
	column := b.frame.Column("converter_locked_frac")
	if column == nil || b.locked != nil {
		return b.locked
	}
	out := [][2]float64{}
	state, open := -1, math.NaN() // -1 unknown, 0 open, 1 locked; the last row that was wholly open.
	closed := math.Inf(-1)
	for i := b.row0; i < b.row1; i++ {
		v, t := column[i], b.frame.T[i]
		switch {
		case math.IsNaN(v):
			continue
		case v >= lockOn && state != 1:
			if state == 0 && t-closed > lockRest {
				out = append(out, [2]float64{max(open, t-lockLong), t})
			}
			state = 1
		case v < lockOff && state != 0:
			if state == 1 {
				closed = t
			}
			state = 0
		}
		if v <= 0.05 {
			open = t
		}
	}
	for i := range out {
		if math.IsNaN(out[i][0]) {
			out[i][0] = out[i][1]
		}
	}
	b.locked = out
	return out
}

// locks tells whether the logged lock-up closes between two times.
func (b *block) locks(t0, t1 float64) bool {
	all := b.lockings()
	i := sort.Search(len(all), func(i int) bool { return all[i][1] >= t0 })
	return i < len(all) && all[i][1] <= t1
}

// lockups adds the lock-ups: by the flag where one is logged; else small falls of the speed ratio within one gear.
func (s *scan) lockups(b *block, shifts []event, rests []rest) {
	steps := s.steps(b, stepFine)
	inShift := func(t0, t1 float64) bool {
		i := sort.Search(len(shifts), func(i int) bool { return shifts[i].t1+0.1 >= t0 })
		return i < len(shifts) && t1 >= shifts[i].t0-0.1
	}
	if s.frame.Has("converter_locked_frac") {
		for _, l := range b.lockings() {
			t0, t1 := l[0], l[1]
			for _, p := range b.near(steps, t0-0.7, t1+0.7) { // The fall of the ratio says best how long it took.
				if z := b.t[min(p.to, len(b.t)-1)]; p.delta() < 0 {
					t1 = max(t1, min(z, t1+lockLong))
				}
			}
			if !inShift(l[1], l[1]) {
				s.addLockup(b, t0, t1)
			}
		}
		return
	}
	for _, p := range steps {
		t0, t1 := b.t[p.from], b.t[min(p.to, len(b.t)-1)]
		if s.isLockup(b, p, rests) && !inShift(t0, t1) {
			s.addLockup(b, t0, t1)
		}
	}
}

func (s *scan) addLockup(b *block, t0, t1 float64) {
	s.add(b, KindLockup, t0, t1)
	b.lockups = append(b.lockups, stats.Span{From: b.at(t0), To: b.at(t1) + 1})
}

// isLockup tells whether a step of the ratio that is no shift is the converter locking: a fall of the engine speed itself,
// under a pressed pedal, in a gear that is logged or known not to change, or else too small for a gear.
func (s *scan) isLockup(b *block, p step, rests []rest) bool {
	d := -p.delta()
	t0, t1 := b.t[p.from], b.t[min(p.to, len(b.t)-1)]
	if d < lockupLeast || d > lockupFlag || t1-t0 > lockLong+2*stepHalf || p.freeBefore || p.freeAfter || p.unmatched || p.fall > -fallShare*d {
		return false
	}
	pedal, _ := b.track("pedal_pct", fastN)
	if s.pedal.logged {
		for i := max(0, p.from-1); i < min(p.to+1, len(pedal)); i++ {
			if s.pedal.released(pedal[i]) {
				return false
			}
		}
	}
	if !b.clear(s, p) {
		return false
	}
	if gearLogged(rests, t0, t1) {
		return true // Every change of it belongs to another step.
	}
	if !math.IsNaN(p.matchFrom) {
		return p.matchFrom == p.matchTo
	}
	return d <= lockupMost
}

// clear tells whether a step stands out of the scatter of the ratio on either side.
func (b *block) clear(s *scan, p step) bool {
	r := s.ratio(b)
	n := b.points(levelTime)
	noise := math.Hypot(stats.Spread(r[max(0, p.from-n):p.from]), stats.Spread(r[p.to:min(len(r), p.to+n)]))
	return -p.delta() > 3*noise
}
