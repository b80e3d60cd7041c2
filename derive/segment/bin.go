package segment

import (
	"maps"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// piece is the part of the line from a row to the next that lies inside a bin: its middle as a share of the line, and how long it lasts.
type piece struct {
	row, bin   int
	u, seconds float64
}

// binned is a pull's rows on one axis, laid into bins. Bins are counted on the axis at first, then by their order among those met.
type binned struct {
	bins   []int   // Of the axis, in rising order.
	rows   [][]int // Of each bin: the rows logged in it.
	pieces []piece // In the order of time.
}

// bins puts a pull's rows and the lines between them into the bins of an axis.
func (c rows) bins(a axis, seg schema.Segment) []schema.Curve {
	b := c.lay(a)
	out := make([]schema.Curve, len(b.bins))
	for i, k := range b.bins {
		out[i] = schema.Curve{RunID: seg.RunID, SegmentID: seg.ID, Axis: a.name, Bin: (float64(k) + 0.5) * a.width, N: len(b.rows[i]),
			Mean: make(map[string]float64, len(c.names)), P05: map[string]float64{}, P95: map[string]float64{}}
	}
	y := newTally(len(b.bins))
	for m := range c.names {
		y.column(&c, m, b, out)
	}
	return out
}

// lay finds the bins that a pull's rows and the lines between them lie in.
func (c rows) lay(a axis) binned {
	var b binned
	hits := map[int][]int{}
	for i := a.row0; i <= a.row1; i++ {
		if math.IsNaN(a.values[i]) {
			continue
		}
		k := int(math.Floor(a.values[i] / a.width))
		hits[k] = append(hits[k], i)
		if i < a.row1 {
			b.line(c.t, a, i)
		}
	}
	for _, p := range b.pieces {
		if _, there := hits[p.bin]; !there {
			hits[p.bin] = nil
		}
	}
	b.bins = slices.Sorted(maps.Keys(hits))
	at := make(map[int]int, len(b.bins))
	for i, k := range b.bins {
		at[k], b.rows = i, append(b.rows, hits[k])
	}
	for i := range b.pieces {
		b.pieces[i].bin = at[b.pieces[i].bin]
	}
	return b
}

// line adds the line from row i to the next to every bin that it passes through.
func (b *binned) line(t []float64, a axis, i int) {
	from, to, seconds := a.values[i], a.values[i+1], t[i+1]-t[i]
	if math.IsNaN(to) || seconds > a.gap || math.Abs(to-from) > reachBins*a.width {
		return
	}
	first, last := int(math.Floor(min(from, to)/a.width)), int(math.Floor(max(from, to)/a.width))
	for k := first; k <= last; k++ {
		u0, u1 := 0.0, 1.0 // The part of the line inside the bin.
		if to != from {
			u0 = (float64(k)*a.width - from) / (to - from)
			u1 = (float64(k+1)*a.width - from) / (to - from)
			u0, u1 = max(min(u0, u1), 0), min(max(u0, u1), 1)
		}
		if u1 > u0 {
			b.pieces = append(b.pieces, piece{i, k, (u0 + u1) / 2, (u1 - u0) * seconds})
		}
	}
}

// tally gathers one column at a time, a figure a bin.
type tally struct {
	sum, time []float64             // Of value times duration, and of durations.
	holding   []map[float64]float64 // Time by code, of an enumeration.
	logged    []float64             // Of one bin.
}

func newTally(bins int) *tally {
	return &tally{sum: make([]float64, bins), time: make([]float64, bins), holding: make([]map[float64]float64, bins)}
}

// column reduces a column to its figures in every bin.
func (y *tally) column(c *rows, m int, b binned, out []schema.Curve) {
	name, col, logged := c.names[m], &c.catalog[m], c.columns[c.names[m]]
	y.weigh(c.filled[name], col, b.pieces)
	for i := range out {
		total := 0.0
		y.logged = y.logged[:0]
		for _, row := range b.rows[i] {
			if v := logged[row]; !math.IsNaN(v) {
				total, y.logged = total+v, append(y.logged, v)
			}
		}
		switch {
		case y.time[i] > 0:
			out[i].Mean[name] = y.sum[i] / y.time[i]
		case len(y.logged) > 0:
			out[i].Mean[name] = total / float64(len(y.logged))
		default:
			continue
		}
		if col.Type == "enum" {
			out[i].Mean[name] = longest(y.holding[i], y.logged)
		}
		if col.Quantiles && len(y.logged) > 0 {
			q := stats.Quantiles(y.logged, 0.05, 0.95)
			out[i].P05[name], out[i].P95[name] = q[0], q[1]
		}
	}
}

// weigh sums a column over the pieces: a continuous one moves straight between two rows, a state holds.
func (y *tally) weigh(x []float64, col *schema.Column, pieces []piece) {
	clear(y.sum)
	clear(y.time)
	clear(y.holding)
	held, enum := col.Kind == schema.State, col.Type == "enum"
	for _, p := range pieces {
		v := x[p.row]
		if !held {
			v += p.u * (x[p.row+1] - x[p.row])
		}
		if math.IsNaN(v) {
			continue
		}
		y.sum[p.bin] += v * p.seconds
		y.time[p.bin] += p.seconds
		if enum {
			if y.holding[p.bin] == nil {
				y.holding[p.bin] = map[float64]float64{}
			}
			y.holding[p.bin][v] += p.seconds
		}
	}
}

// longest is the code that held for the longest time, the lower of two; without times the one logged most.
func longest(held map[float64]float64, logged []float64) float64 {
	if held == nil {
		held = map[float64]float64{}
		for _, v := range logged {
			held[v]++
		}
	}
	best := math.NaN()
	for _, code := range slices.Sorted(maps.Keys(held)) {
		if math.IsNaN(best) || held[code] > held[best] {
			best = code
		}
	}
	return best
}
