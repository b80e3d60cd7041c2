package mapping

import (
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// vague are the names of an exhaust pressure that do not say on which side of the turbine it is taken.
var vague = [...]string{"exhaust pressure", "backpressure exhaust", "backpressure", "ebp", "backpressure engine exhaust", "engine exhaust pressure"}

// exhausts tells an exhaust pressure before the turbine from the pressure of the exhaust system where the name does not. Under
// boost a turbine takes a pressure of boost's own size, an exhaust system a small part of it: common practice, no source.
func (b *bench) exhausts() {
	w := table()
	boost := b.boost()
	for i, c := range b.claims {
		_, ch := b.channel(i)
		k := w.key(w.canonical(b.nameWords(ch)))
		if (c.Column != "turbine_in_kpa" && c.Column != "exhaust_total_kpa") || c.Rule != "" || c.Reference == "" || !slices.Contains(vague[:], k.sorted()) {
			continue
		}
		b.exhaust(i, boost)
	}
}

// nameWords is a channel's name without its unit.
func (b *bench) nameWords(ch schema.Channel) []string {
	senses, _ := aliases().senses(ch)
	if len(senses) > 0 {
		return senses[0].key.words
	}
	return tokens(ch.Name, true)
}

// boost is the manifold's gauge pressure, nil without one.
func (b *bench) boost() *trace {
	i := b.best("map_kpa", -1)
	if i < 0 {
		return nil
	}
	tr := b.trace(i)
	if !b.claims[i].AddBaro {
		tr.v = slices.Clone(tr.v)
		for k := range tr.v {
			tr.v[k] -= orStandard(b.baro.KPa)
		}
	}
	tr.rank()
	return &tr
}

func (b *bench) exhaust(i int, boost *trace) {
	c := &b.claims[i]
	tr := b.trace(i)
	taken := 0.0
	if c.Reference == schema.Absolute {
		taken = orStandard(b.baro.KPa)
	}
	var side, why string
	top := tr.quantile(0.99) - taken
	if share := loaded(tr, boost, taken); !math.IsNaN(share) {
		switch {
		case share >= 0.55:
			side, why = "turbine_in_kpa", fmt.Sprintf("under load it is %.2g times boost, as before a turbine", share)
		case share <= 0.3:
			side, why = "exhaust_total_kpa", fmt.Sprintf("under load it is %.2g times boost, as in an exhaust system", share)
		default:
			why = fmt.Sprintf("under load it is %.2g times boost, which either side could be", share)
		}
	} else if top >= 100 {
		side, why = "turbine_in_kpa", fmt.Sprintf("it reaches %.4g kPa over barometric, which no exhaust system does", top)
	} else {
		why = fmt.Sprintf("it reaches %.4g kPa over barometric, and no boost under load is there to compare with", top)
	}
	if side == "" {
		b.find(i, schema.Doubt, "exhaust_side_unknown", fmt.Sprintf("the name does not say whether it is taken before or after the turbine, and %s: taken as %s; add a mapping with its column", why, c.Column), top, "kPa")
		return
	}
	b.find(i, schema.Note, "exhaust_side_from_values", fmt.Sprintf("the name does not say whether it is taken before or after the turbine: taken as %s, since %s", side, why), top, "kPa")
	if side != c.Column {
		col, _ := schema.Lookup(side)
		c.Column = side
		b.take(i, col, c.Reference, why)
	}
}

// loaded is the share of boost that a pressure makes while boost is high; NaN without boost of 60 kPa.
func loaded(tr trace, boost *trace, taken float64) float64 {
	if boost == nil || len(boost.v) == 0 {
		return math.NaN()
	}
	high := boost.quantile(0.99)
	var shares []float64
	for k, t := range tr.t {
		if o := boost.at(t); o >= max(60, 0.7*high) {
			shares = append(shares, (tr.v[k]-taken)/o)
		}
	}
	if len(shares) < 5 {
		return math.NaN()
	}
	return median(shares)
}
