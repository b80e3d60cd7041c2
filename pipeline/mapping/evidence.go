package mapping

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// ByEvidence settles what names leave open by what the values say: implausible channels, absolute or gauge, the side of the
// turbine, which torque it is, and which of several channels holds a column (the others are Lost). shifts are what align adds to
// each log's time, NaN for a log that it could not place; nil counts as 0. The claims given are not changed. Every guess, made
// here or by ByName, is in the findings.
func ByEvidence(logs []schema.Log, claims []schema.Claim, shifts []float64, ctx Context) ([]schema.Claim, []schema.Finding) {
	b := newBench(logs, claims, shifts, ctx)
	before := make([]string, len(claims))
	for i, c := range b.claims {
		before[i] = c.Column
		b.found = append(b.found, c.Guesses...)
	}
	pressure := func(i int) bool {
		col, ok := schema.Lookup(b.claims[i].Column)
		return ok && col.Quantity == "pressure" && col.Name != "baro_kpa"
	}
	check := func(pressures bool) {
		for i := range b.claims {
			if b.claims[i].Column != "" && pressure(i) == pressures && (b.claims[i].Column != "baro_kpa" || b.claims[i].Unit != "") {
				b.plausible(i)
			}
		}
	}
	b.mechanics()
	check(false)
	b.states = map[int][]rest{}
	b.throttles()
	b.states = map[int][]rest{} // The pedal may be another now.
	b.oddities()
	b.pressures()
	b.exhausts()
	check(true)
	b.logsAside(before)
	b.torques()
	b.contests()
	b.sentinels()
	b.oneTrace()
	b.disagrees()
	b.assumedBaro()
	slices.SortStableFunc(b.found, func(x, y schema.Finding) int {
		return cmp.Or(cmp.Compare(x.Source, y.Source), cmp.Compare(x.Channel, y.Channel), cmp.Compare(x.Code, y.Code), cmp.Compare(x.Text, y.Text))
	})
	return b.claims, b.found
}

// assumedBaro tells that gauge channels are counted from a barometric that nothing stated.
func (b *bench) assumedBaro() {
	if !math.IsNaN(b.barometric().KPa) {
		return
	}
	for i, c := range b.claims {
		if c.Column != "" && !c.Lost && (c.AddBaro || c.TakeBaro) {
			_, ch := b.channel(i)
			b.find(i, schema.Doubt, "baro_assumed", fmt.Sprintf("%q needs a barometric pressure, and no channel, sheet or pressure at key-on gives one: 101.325 kPa assumed; state baro in the run sheet", ch.Name), 101.325, "kPa")
		}
	}
}

// oneTrace tells a log in which channels of different kinds are all the same curve, as simulators make them.
func (b *bench) oneTrace() {
	for l, log := range b.logs {
		var list []int
		var shapes []curve
		for i, c := range b.claims {
			if c.Log == l && (c.Column != "" || b.implausible(i)) {
				if tr := b.trace(i); len(tr.v) >= 10 && differ(tr.v, 8) {
					list, shapes = append(list, i), append(shapes, curveOf(tr.v))
				}
			}
		}
		like := make([]int, len(list))
		for i := range shapes {
			for j := range i {
				if shapes[i].same(shapes[j]) {
					like[i], like[j] = like[i]+1, like[j]+1
				}
			}
		}
		most, name := 0, ""
		for k, i := range list {
			if _, ch := b.channel(i); like[k] > most || like[k] == most && ch.Name < name {
				most, name = like[k], ch.Name
			}
		}
		if most >= 4 {
			b.found = append(b.found, find(log.Source, schema.Doubt, "one_trace", name, fmt.Sprintf("%d channels follow %q value for value, whatever they measure: the log looks simulated", most, name), float64(most), "1"))
		}
	}
}

// differ reports whether values are at least n different ones.
func differ(v []float64, n int) bool {
	seen := make([]float64, 0, n)
	for _, x := range v {
		if len(seen) > 0 && seen[len(seen)-1] == x || slices.Contains(seen, x) {
			continue
		}
		if seen = append(seen, x); len(seen) == n {
			return true
		}
	}
	return false
}

// curve is the beginning of a channel, as logged, from its mean.
type curve struct {
	n   int // Values of the whole channel.
	d   []float64
	sum float64 // Of the squares of d.
}

func curveOf(v []float64) curve {
	c := curve{n: len(v), d: slices.Clone(v[:min(len(v), 500)])}
	mean := 0.0
	for _, x := range c.d {
		mean += x
	}
	mean /= float64(len(c.d))
	for k := range c.d {
		c.d[k] -= mean
		c.sum += c.d[k] * c.d[k]
	}
	return c
}

// same reports whether two channels of one length are each other's image on a straight line, value by value as logged.
func (c curve) same(o curve) bool {
	if c.n != o.n || !(c.sum > 0) || !(o.sum > 0) {
		return false
	}
	product := 0.0
	for k, d := range c.d {
		product += d * o.d[k]
	}
	return product/math.Sqrt(c.sum*o.sum) > 0.9995
}
