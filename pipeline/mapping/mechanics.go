package mapping

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// pairs are the units in which recorders write a power and the torque beside it.
var pairs = [...][2]string{{"kW", "N·m"}, {"hp", "lb-ft"}, {"PS", "N·m"}, {"PS", "kgf·m"}}

// pairTolerance is how far torque times speed may lie from power, relative; the closest two pairs differ by 1.4 %.
const pairTolerance = 0.005

// mechanics settles powers and torques without a unit: one pair of units makes torque times engine speed equal to power, or one
// unit makes power equal to force times speed. What nothing settles is left unmapped.
func (b *bench) mechanics() {
	for l := range b.logs {
		p, t := b.best("wheel_power_kw", l), b.best("torque_nm", l)
		if p >= 0 && t >= 0 {
			b.pair(p, t)
		}
		if p >= 0 && b.bare(p) {
			b.byForce(p)
		}
	}
	for i := range b.claims {
		if !b.bare(i) {
			continue
		}
		c := &b.claims[i]
		col, _ := schema.Lookup(c.Column)
		log, ch := b.channel(i)
		at := *c
		*c = unitMissing(col, log.Source, ch.Name, b.trace(i).quantile(0.99), "nothing in the log tells in which of the trade's units it is")
		c.Log, c.Series, c.Channel = at.Log, at.Series, at.Channel
		b.found = append(b.found, c.Guesses...)
	}
}

// bare reports a power or torque whose unit is open.
func (b *bench) bare(i int) bool {
	c := b.claims[i]
	col, _ := schema.Lookup(c.Column)
	return c.Unit == "" && c.Rule == "" && (col.Quantity == "power" || col.Quantity == "torque")
}

// pair settles a power and a torque of which at least one has no unit.
func (b *bench) pair(p, t int) {
	if !b.bare(p) && !b.bare(t) {
		return
	}
	power, torque := b.trace(p), b.trace(t)
	j := b.nearby("engine_speed_rpm", torque.log)
	if j < 0 {
		return
	}
	rpm := b.trace(j)
	top := power.quantile(0.99)
	var ratios []float64
	for k, at := range torque.t {
		if w, n := power.at(at), rpm.at(at); w >= 0.3*top && w > 0 && n > idleFrom {
			ratios = append(ratios, torque.v[k]*n/powerFactor/w)
		}
	}
	r := agree(ratios)
	if r.n < 5 || !(r.spread < 0.02) {
		return
	}
	for _, units := range pairs {
		pu, _ := schema.ParseUnit(units[0])
		tu, _ := schema.ParseUnit(units[1])
		want := 1.0
		if b.bare(p) {
			want *= pu.Factor
		} else if b.claims[p].Unit != pu.Name {
			continue
		}
		if b.bare(t) {
			want /= tu.Factor
		} else if b.claims[t].Unit != tu.Name {
			continue
		}
		if math.Abs(r.ratio/want-1) > pairTolerance {
			continue
		}
		why := fmt.Sprintf("torque times engine speed is the power in %s and %s, and in no other pair in use", units[0], units[1])
		for i, u := range map[int]schema.Unit{p: pu, t: tu} {
			if b.bare(i) {
				b.assume(i, u.Name, why)
			}
		}
		return
	}
}

// byForce settles a power without a unit by force times speed.
func (b *bench) byForce(p int) {
	f, v := b.best("roller_force_n", b.claims[p].Log), b.road(b.claims[p].Log)
	if f < 0 || v < 0 {
		return
	}
	power, force, speed := b.trace(p), b.trace(f), b.trace(v)
	top := power.quantile(0.99)
	var ratios []float64
	for k, at := range power.t {
		if power.v[k] >= 0.3*top && power.v[k] > 0 {
			ratios = append(ratios, force.at(at)*speed.at(at)/3600/power.v[k])
		}
	}
	r := agree(ratios)
	if r.n < 5 || !(r.spread < 0.02) {
		return
	}
	for _, name := range [...]string{"kW", "hp", "PS"} {
		if u, _ := schema.ParseUnit(name); math.Abs(r.ratio/u.Factor-1) <= pairTolerance {
			b.assume(p, name, "force times speed is the power in it, and in no other")
			return
		}
	}
}
