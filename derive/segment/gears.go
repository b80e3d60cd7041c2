package segment

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// How far a speed ratio may lie from a gear's. A tyre's radius is known to some percent, a converter slips one way only.
const (
	ratioBelow     = 0.05 // Scale of what lies below the geared ratio: tyre and noise.
	ratioSlip      = 0.15 // Scale of what lies above it while the converter is open or not known to be locked.
	ratioMiss      = 0.12 // Furthest below, and above when locked.
	ratioOpen      = 0.35 // Furthest above when open.
	ratioTrust     = 0.62 // Mean misfit beyond which the ratios are another vehicle's; chance gives 0.7 and more.
	ratioTrustOpen = 0.35 // The same where slip of an open converter is forgiven; chance gives 0.45 and more.
	skipCost       = 0.05 // A gear skipped is a little less likely.
	offsetReach    = 0.10 // How far the tyre's radius may be from the stated one.
)

// matchGears finds the gears that explain a step from pre to post. Equal gears mean that only the converter's slip changed.
// missed is true when the ratios are known and none fits.
func matchGears(geared []float64, pre, post float64, lockedPre, lockedPost bool) (from, to float64, missed bool) {
	from, to = math.NaN(), math.NaN()
	if geared == nil {
		return from, to, false
	}
	best := math.Inf(1)
	for a, ra := range geared {
		for z, rz := range geared {
			cost := misfit(pre-ra, lockedPre) + misfit(post-rz, lockedPost) + skipCost*math.Abs(float64(a-z))
			if cost < best {
				best, from, to = cost, float64(a+1), float64(z+1)
			}
		}
	}
	return from, to, math.IsInf(best, 1)
}

// misfit is how badly a level fits a gear, from its distance to the geared ratio; infinite where it cannot be that gear.
func misfit(d float64, locked bool) float64 {
	switch {
	case math.IsNaN(d) || d < -ratioMiss || d > ratioOpen || locked && d > ratioMiss:
		return math.Inf(1)
	case d < 0 || locked:
		return d * d / (ratioBelow * ratioBelow)
	}
	return d * d / (ratioSlip * ratioSlip)
}

// nearestGear is the gear whose ratio a level is nearest to; NaN when none is near.
func nearestGear(geared []float64, level float64, locked bool) float64 {
	best, gear := math.Inf(1), math.NaN()
	for k, r := range geared {
		if c := misfit(level-r, locked); c < best {
			best, gear = c, float64(k+1)
		}
	}
	return gear
}

// centre moves the geared ratios by what the tyre's radius is off, found from where the ratio of this log rests. Ratios that
// explain less than half of it are dropped, with a finding: they belong to another vehicle.
func (s *scan) centre() {
	if s.geared == nil {
		return
	}
	levels := s.levels()
	if len(levels) == 0 {
		return
	}
	offset, cost := 0.0, math.Inf(1)
	reach := offsetReach
	for i := 1; i < len(s.geared); i++ {
		if d := 0.45 * math.Abs(s.geared[i]-s.geared[i-1]); d < reach {
			reach = d // Further, and one gear would pass for the next.
		}
	}
	for o := -reach; o <= reach+1e-9; o += reach / 20 {
		if c := misses(levels, s.geared, o, ratioBelow) + 0.5*math.Abs(o); c < cost {
			offset, cost = o, c
		}
	}
	if misses(levels, s.geared, offset, ratioBelow) > ratioTrust && misses(levels, s.geared, 0, ratioSlip) > ratioTrustOpen {
		level := math.Exp(longestLevel(levels))
		s.find(schema.Doubt, "ratios_do_not_fit", s.speed, fmt.Sprintf("engine speed over %s rests at %.4g, which none of the vehicle's gear ratios "+
			"explains: gears are not numbered by them; check gear_ratios, final_drive and rolling_radius", s.speed, level),
			level, "rpm per unit", math.NaN(), math.NaN())
		s.geared = nil
		return
	}
	moved := make([]float64, len(s.geared))
	for i := range moved {
		moved[i] = s.geared[i] + offset
	}
	s.geared = moved
}

// level is where the speed ratio rests for a while, and for how long.
type level struct{ at, seconds float64 }

// levels are the places where the speed ratio rests while a gear is engaged.
func (s *scan) levels() []level {
	var out []level
	for _, b := range s.blocks {
		r := s.ratio(b)
		slope := slopes(r, b.step, max(1, int(stepHalf/b.step+0.5)))
		limit := b.slopeLimit(stepSlope)
		n, _ := b.track("engine_speed_rpm", fastN)
		still := stats.Where(len(r), func(i int) bool { return math.Abs(slope[i]) < limit && !s.idles(n[i]) })
		for _, w := range stats.Longer(still, b.points(0.4)) {
			out = append(out, level{stats.Median(r[w.From:w.To]), min(float64(w.Len())*b.step, 5)})
		}
	}
	return out
}

func longestLevel(levels []level) float64 {
	best := level{at: math.NaN()}
	for _, l := range levels {
		if l.seconds > best.seconds {
			best = l
		}
	}
	return best.at
}

// misses is the mean misfit of levels to the nearest gear with an offset, each at most 1, weighed by how long they last. What lies
// above a gear is measured by another scale than what lies below: an open converter slips one way.
func misses(levels []level, geared []float64, offset, above float64) float64 {
	sum, seconds := 0.0, 0.0
	for _, l := range levels {
		best := 1.0
		for _, r := range geared {
			d := (l.at - r - offset) / above
			if d < 0 {
				d *= -above / ratioBelow
			}
			best = min(best, d)
		}
		sum, seconds = sum+best*l.seconds, seconds+l.seconds
	}
	return sum / seconds
}
