package segment

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Rules by which a pull is doubted. Common practice, no source, unless said.
const (
	coldCoolant  = 70.0 // °C.
	outlierLeast = 4    // Pulls alike before one can be an outlier.
	outlierScale = 3.0  // Spreads from the median: 40 CFR 1037.528(g)(1).
	outlierShare = 0.03 // And at least this share of it.
	slipRise     = 0.06 // What the slip of a tyre rises by within a pull when it spins.
	slipTime     = 0.2  // s.
	liftDip      = 10.0 // Points that the pedal dips below full.
	liftEarly    = 0.85 // Of the usual last speed: a pull given up.
)

// addPulls adds the pulls as segments, with what was measured in each and why one is doubted.
func (s *scan) addPulls(pulls []pull) {
	bare, last := 0, math.NaN()
	first := len(s.segments)
	for _, p := range pulls {
		seg := s.add(p.b, KindPull, p.b.t[p.span.From], p.b.t[p.span.To-1])
		if seg == nil {
			continue
		}
		seg.Pull = s.describe(p, seg)
		seg.Pull.SinceLastS = seg.T0S - last
		last = seg.T1S
		if p.bare {
			bare++
		}
	}
	found := s.segments[first:]
	s.flagAlike(found)
	for _, seg := range found {
		if seg.Pull.Flagged != "" {
			s.find(schema.Note, "pull_flagged", "", fmt.Sprintf("the pull at %.1f s is kept and doubted: %s", seg.T0S, seg.Pull.Flagged),
				seg.Pull.PeakPowerKW, "kW", seg.T0S, seg.T1S)
		}
	}
	if bare > 0 {
		s.find(schema.Doubt, "pull_without_load_evidence", "", fmt.Sprintf("neither pedal nor load is logged: %d sustained accelerations through the speed range "+
			"are taken for full-load pulls; log the pedal to be sure", bare), float64(bare), "", found[0].T0S, found[len(found)-1].T1S)
	}
}

func (s *scan) describe(p pull, seg *schema.Segment) *schema.Pull {
	r0, r1 := seg.Row0, seg.Row1
	start := r0 + stats.Lower(s.frame.T[r0:r1+1], seg.T0S+1) - 1 // The first second.
	at := func(name string, to int) float64 { return mean(s.frame.Column(name), r0, to) }
	d := &schema.Pull{
		Gear: s.pullGear(p), Locked: yesNo(at("converter_locked_frac", r1)),
		ChargeStartC: at("charge_c", max(start, r0)), CoolantC: at("coolant_c", r1), TransC: at("trans_c", r1),
	}
	d.RPMFrom, d.RPMTo = s.ends(p, seg)
	d.PeakPowerKW = peak(s.frame, "wheel_power_kw", r0, r1)
	d.PeakTorqueNM = peak(s.frame, "torque_nm", r0, r1)
	var why []string
	if d.CoolantC < coldCoolant {
		why = append(why, fmt.Sprintf("cold (coolant %.0f °C, below %.0f)", d.CoolantC, coldCoolant))
	}
	if rise := s.slipRise(p); rise > slipRise {
		why = append(why, fmt.Sprintf("wheel slip (rises by %.0f %%)", 100*rise))
	}
	if dip := s.dip(p); p.lifted || dip > liftDip {
		why = append(why, fmt.Sprintf("lifted (pedal falls by %.0f points)", dip))
	}
	d.Flagged = strings.Join(why, ", ")
	return d
}

// ends are the engine speeds at both ends of a pull, from lines fitted to its own rows.
func (s *scan) ends(p pull, seg *schema.Segment) (from, to float64) {
	c := p.b.cellsOf("engine_speed_rpm")
	a, z := stats.Lower(c.t, seg.T0S-1e-9), stats.Lower(c.t, seg.T1S+p.b.step)
	half := min(max(fastV, 0.05*(seg.T1S-seg.T0S)), 2)
	from, _ = stats.Local(c.t[a:z], c.x[a:z], c.w[a:z], seg.T0S, half, 1)
	to, _ = stats.Local(c.t[a:z], c.x[a:z], c.w[a:z], seg.T1S, half, 1)
	return from, to
}

// pullGear is the gear by the logged channel, else by the vehicle's ratios, else by the sheet.
func (s *scan) pullGear(p pull) float64 {
	b, mid := p.b, p.span.From+p.span.Len()/2
	var logged []float64
	rests := b.rests()
	for i := sort.Search(len(rests), func(i int) bool { return rests[i].t1 >= b.t[mid] }); i < len(rests); i++ {
		if r := rests[i]; r.t0 <= b.t[p.span.To-1] {
			logged = append(logged, r.gear)
			continue
		}
		break
	}
	if g := stats.Quantile(0, logged); !math.IsNaN(g) {
		if s.Gear > 0 && s.Gear != g {
			s.findOnce(schema.Doubt, "gear_disagrees", "gear", fmt.Sprintf("the sheet says gear %.0f, the gear that was logged is %.0f: the log is followed; check the sheet (value counts the pulls)", s.Gear, g),
				b.t[p.span.From], b.t[p.span.To-1])
		}
		return g
	}
	if g := nearestGear(s.geared, stats.Median(s.ratio(b)[mid:p.span.To]), b.held("converter_locked_frac", mid) >= 0.5); !math.IsNaN(g) {
		if s.Gear > 0 && s.Gear != g {
			s.findOnce(schema.Doubt, "gear_disagrees", s.speed, fmt.Sprintf("the sheet says gear %.0f, engine speed over road speed is that of gear %.0f: the sheet is followed; "+
				"check it or the vehicle's ratios (value counts the pulls)", s.Gear, g), b.t[p.span.From], b.t[p.span.To-1])
			return s.Gear
		}
		return g
	}
	return s.Gear
}

// slipRise is how far the tyre's slip rises within a pull after its lowest, held for a moment; 0 where nothing tells it, or
// where a converter opens.
func (s *scan) slipRise(p pull) float64 {
	x, _ := p.b.track("tyre_slip_frac", fastN)
	x = x[p.span.From:p.span.To]
	low, rise := math.Inf(1), 0.0
	hold := p.b.points(slipTime)
	for i := 0; i+hold <= len(x); i++ {
		if v := lowest(x[i : i+hold]); !math.IsNaN(v) {
			rise = max(rise, v-low)
		}
		if v := highest(x[i : i+hold]); !math.IsNaN(v) {
			low = min(low, v)
		}
	}
	return rise
}

// dip is how far the pedal falls below full inside a pull, its first and last moments left out.
func (s *scan) dip(p pull) float64 {
	if !s.pedal.logged {
		return 0
	}
	x, _ := p.b.track("pedal_pct", fastN)
	edge := p.b.points(0.4)
	if p.span.Len() < 3*edge {
		return 0
	}
	return max(0, min(s.pedal.top, 100)-orZero(lowest(x[p.span.From+edge:p.span.To-edge])))
}

// flagAlike adds the doubts that need the run's other pulls: an outlier in power, a pull given up early.
func (s *scan) flagAlike(pulls []schema.Segment) {
	type key struct{ gear, locked float64 }
	groups := map[key][]*schema.Pull{}
	for _, seg := range pulls {
		k := key{orZero(seg.Pull.Gear), orZero(seg.Pull.Locked)}
		groups[k] = append(groups[k], seg.Pull)
	}
	for _, g := range groups {
		if len(g) < outlierLeast {
			continue
		}
		power, last := make([]float64, len(g)), make([]float64, len(g))
		for i, p := range g {
			power[i], last[i] = p.PeakPowerKW, p.RPMTo
		}
		middle, spread, usual := stats.Median(power), stats.Spread(power), stats.Median(last)
		for _, p := range g {
			if d := math.Abs(p.PeakPowerKW - middle); d > max(outlierScale*spread, outlierShare*math.Abs(middle)) {
				p.Flagged = also(p.Flagged, fmt.Sprintf("outlier (peak power %.1f kW, median %.1f of %d)", p.PeakPowerKW, middle, len(g)))
			}
			if p.RPMTo > p.RPMFrom && p.RPMTo < liftEarly*usual && !strings.Contains(p.Flagged, "lifted") {
				p.Flagged = also(p.Flagged, fmt.Sprintf("lifted (ends at %.0f rpm, usually at %.0f)", p.RPMTo, usual))
			}
		}
	}
}

func also(flags, why string) string {
	if flags == "" {
		return why
	}
	return flags + ", " + why
}
