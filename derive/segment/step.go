package segment

import (
	"math"
	"sort"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Steps of the speed ratio r = ln(engine speed / road speed). Common practice, no source.
const (
	stepHalf   = 0.25 // s. Half width of the fit that gives the ratio's slope.
	stepSlope  = 0.14 // 1/s. A shift by 15 % takes a second at most; a converter that couples is slower than this.
	stepFine   = 0.05 // 1/s. The same for a lock-up, which may take off no more than 3 % of the engine speed.
	stepCap    = 0.30 // 1/s. The threshold grows with noise, up to here: every gear change is faster than that.
	stepNoise  = 3.5  // Spreads of the slope that noise is allowed.
	stepNear   = 0.6  // s. A slope far below the steepest this near is
	stepTail   = 0.25 // (this share of it) at rest beside it: a first gear may last for half a second only.
	stepJoin   = 0.25 // s. Stillness shorter than this is part of the movement.
	stepLong   = 3.5  // s. What moves longer is no shift: a clutch held open, a launch.
	levelTime  = 0.7  // s. How much on either side gives the levels before and after.
	levelMin   = 0.2  // s. What must be still on either side.
	clutchBack = 0.4  // Of a step: a smaller one back right behind it is a clutch that takes up, whatever the pedal does.
	partRise   = 0.08 // ln. An engine that gains this between two falls has been in gear meanwhile.
	clutch     = 1.0  // s. The longest halt of the engine speed below its new level while a clutch is open.
)

// step is a lasting change of the speed ratio: from grid index from to behind to, from level pre to level post.
type step struct {
	from, to   int
	pre, post  float64
	fall       float64    // ln of engine speed after over before, below 0 where it falls.
	drift      [2]float64 // What the ratio moves by itself while it is taken to rest before and after the step.
	used       bool
	matchFrom  float64 // Gears by the vehicle's ratios, NaN when unknown. Equal: the converter locks or opens.
	matchTo    float64
	unmatched  bool // The ratios are known and none of them explains the step.
	freeBefore bool // The engine was idling before, so no gear was engaged.
	freeAfter  bool
}

func (p step) delta() float64 { return p.post - p.pre }

// ratio is the speed ratio on the grid, NaN while the engine stands or the vehicle all but stands.
func (s *scan) ratio(b *block) []float64 {
	if b.ratio != nil {
		return b.ratio
	}
	r := schema.Missing(len(b.t))
	b.ratio = r
	if s.speed == "" {
		return r
	}
	n, _ := b.track("engine_speed_rpm", fastN)
	v, _ := b.track(s.speed, fastV)
	least := rolling
	if s.speed == "output_shaft_rpm" {
		least = 50 // rpm.
	}
	for i := range r {
		if n[i] > running && v[i] > least {
			r[i] = math.Log(n[i] / v[i])
		}
	}
	return r
}

// slopes are the slopes of lines fitted to evenly spaced values within half steps of each; NaN with fewer than three or half
// of them present.
func slopes(x []float64, step float64, half int) []float64 {
	out := schema.Missing(len(x))
	for i := range x {
		var n, sx, su, suu, sux float64
		for k := -half; k <= half; k++ {
			if j := i + k; j >= 0 && j < len(x) && !math.IsNaN(x[j]) {
				u := float64(k)
				n, sx, su, suu, sux = n+1, sx+x[j], su+u, suu+u*u, sux+u*x[j]
			}
		}
		if n >= 3 && n > float64(half) {
			out[i] = (n*sux - su*sx) / (n*suu - su*su) / step
		}
	}
	return out
}

// slopeLimit is the slope of the ratio from which it counts as moving, least without noise. It grows with the scatter of the engine speed, which is
// taken from how far each value lies from the line between its neighbours.
func (b *block) slopeLimit(least float64) float64 {
	const enough = 4096
	c := b.cellsOf("engine_speed_rpm")
	var off []float64
	for i := 1; i+1 < len(c.t); i += max(1, len(c.t)/enough) {
		if c.t[i+1]-c.t[i-1] <= 2*c.gap && c.x[i] > running {
			line := c.x[i-1] + (c.x[i+1]-c.x[i-1])*(c.t[i]-c.t[i-1])/(c.t[i+1]-c.t[i-1])
			off = append(off, math.Abs(c.x[i]-line)/c.x[i])
		}
	}
	noise := orZero(stats.Quantile(0.15, off)) / 0.189 / math.Sqrt(1.5) // 15 % of normal values lie within 0.189 sd: shifts do not reach there.
	values := max(2, 2*stepHalf/max(usual(c.t), gridStep))
	return min(max(least, stepNoise*noise*math.Sqrt(3/values)/stepHalf), stepCap) // The scatter of a slope fitted to so many values.
}

// peaks is the largest absolute value within half places of each.
func peaks(x []float64, half int) []float64 {
	out := make([]float64, len(x))
	var queue []int // Places of falling values, the largest first.
	for i := 0; i < len(x)+half; i++ {
		if i < len(x) && !math.IsNaN(x[i]) {
			for len(queue) > 0 && math.Abs(x[queue[len(queue)-1]]) <= math.Abs(x[i]) {
				queue = queue[:len(queue)-1]
			}
			queue = append(queue, i)
		}
		k := i - half
		for len(queue) > 0 && queue[0] < k-half {
			queue = queue[1:]
		}
		if k >= 0 && len(queue) > 0 {
			out[k] = math.Abs(x[queue[0]])
		}
	}
	return out
}

// steps finds the lasting changes of the speed ratio that are at least as fast as least.
func (s *scan) steps(b *block, least float64) []step {
	r := s.ratio(b)
	slope := slopes(r, b.step, max(1, int(stepHalf/b.step+0.5)))
	limit := b.slopeLimit(least)
	around := peaks(slope, b.points(stepNear))
	moving := stats.Where(len(r), func(i int) bool {
		return math.Abs(slope[i]) > max(limit, stepTail*around[i]) || math.IsNaN(slope[i])
	})
	moving = b.parted(stats.Join(moving, b.points(stepJoin)-1))
	var out []step
	for i, m := range moving {
		before, after := 0, len(r)
		if i > 0 {
			before = moving[i-1].To
		}
		if i+1 < len(moving) {
			after = moving[i+1].From
		}
		p := step{from: m.From, to: m.To, pre: math.NaN(), post: math.NaN()}
		if still := b.points(levelMin); m.From-before >= still && after-m.To >= still {
			pre := r[max(before, m.From-b.points(levelTime)):m.From]
			p.pre = stats.Median(pre)
			post := r[m.To:min(after, m.To+b.points(levelTime))]
			p.post = stats.Median(post)
			p.drift = [2]float64{b.drift(pre), b.drift(post)}
		}
		if !math.IsNaN(p.delta()) {
			out = append(out, p)
		}
	}
	out = s.joinClutch(b, out)
	for i := range out {
		s.judge(b, &out[i])
	}
	return out
}

// drift is what a line through evenly spaced values moves from end to end.
func (b *block) drift(x []float64) float64 {
	return orZero(slopes(x, 1, len(x))[len(x)/2]) * float64(len(x))
}

// parted splits movements of the ratio that hold two falls of the engine speed with a rise between them: two upshifts in
// quick succession. The rise is left out, as the rest between them.
func (b *block) parted(moving []stats.Span) []stats.Span {
	var out []stats.Span
	for _, m := range moving {
		for _, rise := range b.rises(max(0, m.From-b.points(stepHalf)), min(len(b.t), m.To+b.points(stepHalf)), shiftLeast) {
			if rise.From > m.From && rise.To < m.To {
				out = append(out, stats.Span{From: m.From, To: rise.From})
				m.From = rise.To
			}
		}
		out = append(out, m)
	}
	return out
}

// rises are where the engine speed gains between two falls of at least fall (ln), from grid index from to behind to.
func (b *block) rises(from, to int, fall float64) []stats.Span {
	n, _ := b.track("engine_speed_rpm", fastN)
	x := make([]float64, max(0, to-from))
	for i := range x {
		x[i] = math.Log(n[from+i])
	}
	var out []stats.Span
	turns := stats.Turns(x, partRise)
	for i := 1; i+2 < len(turns); i++ { // High, low, high, low.
		low, high := turns[i].At, turns[i+1].At
		deep := x[turns[i-1].At]-x[low] > fall && x[high]-x[turns[i+2].At] > fall
		if !turns[i].High && deep && high-low >= b.points(levelMin) {
			out = append(out, stats.Span{From: low + from, To: high + from})
		}
	}
	return out
}

// near are the steps, in order, that touch the time from t0 to t1.
func (b *block) near(steps []step, t0, t1 float64) []step {
	from := sort.Search(len(steps), func(i int) bool { return b.t[steps[i].to-1] >= t0 })
	to := from
	for to < len(steps) && b.t[steps[to].from] <= t1 {
		to++
	}
	return steps[from:to]
}

// joinClutch makes one of two opposite steps between which a clutch was open: the engine speed fell below the level of the
// new gear, or flared above it, and came back.
func (s *scan) joinClutch(b *block, steps []step) []step {
	p, _ := b.track("pedal_pct", fastN)
	n, _ := b.track("engine_speed_rpm", fastN)
	var out []step
	for _, next := range steps {
		k := len(out) - 1
		if k >= 0 && next.from-out[k].to <= b.points(clutch) && out[k].delta()*next.delta() < 0 {
			mid := (out[k].to + next.from) / 2
			back := next.from-out[k].to <= b.points(clutch)/2 && math.Abs(next.delta()) < clutchBack*math.Abs(out[k].delta())
			if back || !s.pedal.logged || s.pedal.released(p[mid]) || s.idles(n[mid]) {
				out[k].to, out[k].post = next.to, next.post
				continue
			}
		}
		out = append(out, next)
	}
	return out
}

// judge adds how the engine speed moved, whether a gear was engaged on either side, and which gears the levels mean.
func (s *scan) judge(b *block, p *step) {
	n, _ := b.track("engine_speed_rpm", fastN)
	pedal, _ := b.track("pedal_pct", fastN)
	mid, edge := (p.from+p.to)/2, b.points(0.3)
	lo, hi := max(0, p.from-edge), min(len(n), p.to+edge)
	if p.delta() < 0 {
		p.fall = math.Log(lowest(n[mid:hi]) / highest(n[lo:mid+1]))
	} else {
		p.fall = math.Log(highest(n[mid:hi]) / lowest(n[lo:mid+1]))
	}
	free := func(i int) bool {
		i = min(max(i, 0), len(n)-1)
		return s.idles(n[i]) && (!s.pedal.logged || s.pedal.released(pedal[i]))
	}
	p.freeBefore, p.freeAfter = free(p.from-b.points(levelMin)), free(p.to+b.points(levelMin)-1)
	locked := b.held("converter_locked_frac", p.from-1)
	p.matchFrom, p.matchTo, p.unmatched = matchGears(s.geared, p.pre, p.post, locked >= 0.5, b.held("converter_locked_frac", p.to) >= 0.5)
}

// held is a state's value at a grid index: the last one logged at or before it.
func (b *block) held(name string, i int) float64 {
	i = min(max(i, 0), len(b.t)-1)
	return stateAt(b.frame, name, b.row0, b.row1, b.t[i])
}

// stateAt is the last value logged at or before a time within rows [r0, r1), NaN without one.
func stateAt(f *schema.Frame, name string, r0, r1 int, t float64) float64 {
	column := f.Column(name)
	if column == nil {
		return math.NaN()
	}
	for i := r0 + stats.Lower(f.T[r0:r1], t+1e-9) - 1; i >= r0; i-- {
		if !math.IsNaN(column[i]) {
			return column[i]
		}
		if t-f.T[i] > 2 {
			break // A state logged once a second or slower than that is held; an older one is no news.
		}
	}
	return math.NaN()
}

func highest(x []float64) float64 {
	best := math.NaN()
	for _, v := range x {
		if !(v <= best) && !math.IsNaN(v) {
			best = v
		}
	}
	return best
}

func lowest(x []float64) float64 {
	best := math.NaN()
	for _, v := range x {
		if !(v >= best) && !math.IsNaN(v) {
			best = v
		}
	}
	return best
}

func orZero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}
