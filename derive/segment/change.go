package segment

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// How a logged gear is read. Common practice, no source.
const (
	gearRest    = 0.35 // s. A gear shown for less is flicker.
	gearRestMax = 0.80 // s. Slow logs need more than one row, up to here.
	neutralMost = 2.5  // s. Neutral for longer lies between two drives, not inside a shift.
)

// change is one change of the logged gear: left from at leave, shows to at enter.
type change struct {
	from, to     float64
	leave, enter float64
}

func (c change) up() bool { return c.to > c.from }

// rest is a stretch over which one gear is logged.
type rest struct{ gear, t0, t1 float64 }

// changes reads the gear channel of a block. Neutral, reverse and missing values inside a shift are passed over, flicker
// is taken out, and a drive that ends in neutral has no change.
func (b *block) changes() []change {
	rests := b.rests()
	var out []change
	for i := 1; i < len(rests); i++ {
		a, z := rests[i-1], rests[i]
		if a.gear != z.gear && z.t0-a.t1 <= neutralMost {
			out = append(out, change{a.gear, z.gear, a.t1, z.t0})
		}
	}
	return out
}

// rests are the forward gears in order of time, each held for long enough to be believed.
func (b *block) rests() []rest {
	column := b.frame.Column("gear")
	if column == nil || b.gears != nil {
		return b.gears
	}
	var raw []rest
	var times []float64
	for i := b.row0; i < b.row1; i++ {
		g, t := math.Round(column[i]), b.frame.T[i]
		if math.IsNaN(g) {
			continue
		}
		times = append(times, t)
		if n := len(raw) - 1; n >= 0 && raw[n].gear == g {
			raw[n].t1 = t
			continue
		}
		raw = append(raw, rest{g, t, t})
	}
	period := usual(times)
	least := max(gearRest, min(1.4*period, gearRestMax))
	var out []rest
	for i, r := range raw {
		until := r.t1 + period
		if i+1 < len(raw) {
			until = min(until, raw[i+1].t0)
		}
		if r.gear <= 0 || until-r.t0 < least && i > 0 && i+1 < len(raw) {
			continue
		}
		if n := len(out) - 1; n >= 0 && out[n].gear == r.gear && r.t0-out[n].t1 <= neutralMost {
			out[n].t1 = r.t1
			continue
		}
		out = append(out, r)
	}
	b.gears = out
	return out
}

// pair gives each change of the gear the step of the ratio that answers it, nil where none does: the best match first, so that a
// change whose own step is hidden (a first gear with an open converter) does not take the next one's.
func pair(b *block, changes []change, steps []step, lag float64) []*step {
	type match struct {
		change, step int
		score        float64
	}
	var all []match
	for i, c := range changes {
		from := sort.Search(len(steps), func(k int) bool { return b.t[steps[k].to-1] >= c.leave-gearLag })
		for k := from; k < len(steps) && b.t[steps[k].from] <= c.enter+gearLag; k++ {
			if v := c.fits(b, steps[k], lag); v > math.Inf(-1) {
				all = append(all, match{i, k, v})
			}
		}
	}
	slices.SortStableFunc(all, func(x, y match) int { return cmp.Compare(y.score, x.score) })
	out := make([]*step, len(changes))
	taken := map[int]bool{}
	for _, m := range all {
		p := &steps[m.step]
		if out[m.change] != nil || taken[m.step] {
			continue
		}
		out[m.change] = p
		taken[m.step] = b.t[min(p.to, len(b.t)-1)]-b.t[p.from] <= stepTwo
	}
	return out
}

// between is the time that the steps of the changes before and after the i-th leave to it.
func between(b *block, pairs []*step, i int) [2]float64 {
	free := [2]float64{math.Inf(-1), math.Inf(1)}
	for k := i - 1; k >= 0 && math.IsInf(free[0], -1); k-- {
		if p := pairs[k]; p != nil {
			free[0] = b.t[min(p.to, len(b.t)-1)]
		}
	}
	for k := i + 1; k < len(pairs) && math.IsInf(free[1], 1); k++ {
		if p := pairs[k]; p != nil {
			free[1] = b.t[p.from]
		}
	}
	return free
}
