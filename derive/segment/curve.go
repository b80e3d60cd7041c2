package segment

import (
	"maps"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Bins of the two axes.
const (
	AxisSpeed = "engine_speed_rpm"
	AxisPower = "wheel_power_kw"
	speedBin  = 50.0 // rpm.
	powerBin  = 5.0  // kW.
	reachBins = 3.0  // Two rows further apart on the axis leave the bins between them empty.
	fitNoise  = 2.5  // Standard errors by which two fits to the same noise may differ.
	axisNoise = 0.25 // Of a bin. Scatter of the axis beyond it is smoothed before rows are put into bins.
)

// axis is a pull's rows on one axis: what each row reads there, and which rows count.
type axis struct {
	name   string
	width  float64
	row0   int
	row1   int // The last row.
	values []float64
	gap    float64 // s. Rows further apart are not joined.
}

// Curves reduces each pull to a row a bin and axis. Bin is the bin's middle: 1525 for 1500 up to but not including 1550 rpm.
//
// A mean is weighed by time: between two rows every value is taken to move straight (a state to hold), and the part of that
// line that lies inside the bin counts with its duration. So a bin's mean does not depend on where in it a slow log's rows
// happen to lie, and a 4 Hz log gives the same curve as a 100 Hz one. N counts the logged rows in the bin; it is 0 where a
// line passed through between two rows less than three bins apart, and bins between rows further apart, or across a gap in
// time, are absent. Where the axis itself scatters by more than a quarter of a bin it is smoothed by lines fitted over
// 0.2 s or five rows (power: up to 8 % of the pull, where it does not bend) on either side, else rows stand in the bin they were
// logged in. Enumerations take the code that held longest. P05 and P95
// are over the logged rows.
//
// Power bins take the rows on the low-speed side of the pull's peak power, beyond which the same power comes again.
func Curves(f *schema.Frame, segments []schema.Segment) []schema.Curve {
	var out []schema.Curve
	f, _ = clean(f)
	for _, seg := range segments {
		if seg.Pull == nil || seg.Row1 <= seg.Row0 || seg.Row1 >= f.Len() {
			continue
		}
		c := cut(f, seg.Row0, seg.Row1)
		for _, a := range []axis{c.speedAxis(), c.powerAxis(seg.Pull)} {
			if a.values != nil {
				out = append(out, c.bins(a, seg)...)
			}
		}
	}
	return out
}

// rows is one pull's rows, its columns filled between their own values.
type rows struct {
	t       []float64
	names   []string
	catalog []schema.Column      // The entries of names.
	columns map[string][]float64 // As logged.
	filled  map[string][]float64 // With what lies between two values of a slower channel.
}

func cut(f *schema.Frame, r0, r1 int) rows {
	c := rows{t: f.T[r0 : r1+1], columns: map[string][]float64{}, filled: map[string][]float64{}}
	for _, name := range f.Names() {
		if x := f.Column(name)[r0 : r1+1]; name != "t_s" && !math.IsNaN(highest(x)) {
			col, _ := schema.Lookup(name)
			c.names, c.catalog = append(c.names, name), append(c.catalog, col)
			c.columns[name], c.filled[name] = x, fill(c.t, x, col.Kind == schema.State)
		}
	}
	return c
}

// fill draws a column between its values, or holds a state, never across a gap.
func fill(t, x []float64, state bool) []float64 {
	out := slices.Clone(x)
	var times []float64
	for i, v := range x {
		if !math.IsNaN(v) {
			times = append(times, t[i])
		}
	}
	gap, last := max(minGap, gapPeriods*usual(times)), -1
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		for k := last + 1; last >= 0 && k < i && t[i]-t[last] <= gap; k++ {
			out[k] = x[last]
			if !state {
				out[k] += (v - x[last]) * (t[k] - t[last]) / (t[i] - t[last])
			}
		}
		last = i
	}
	return out
}

// axisOf makes an axis of a column, smoothed over up to a share of the pull where it scatters.
func (c rows) axisOf(name string, width, share float64) axis {
	a := axis{name: name, width: width, row1: len(c.t) - 1, gap: max(minGap, gapPeriods*usual(c.t))}
	x := c.filled[name]
	if x == nil {
		return a
	}
	least := max(peakHalf, peakRows*usual(c.t))
	thin := c.thin(x)
	smooth, off := schema.Missing(len(x)), schema.Missing(len(x))
	for i := range x {
		if !math.IsNaN(x[i]) {
			smooth[i], _ = stats.Local(thin.t, thin.x, thin.w, c.t[i], least, 1)
			off[i] = x[i] - smooth[i]
		}
	}
	noise := stats.Spread(off)
	if a.values = x; !(noise > axisNoise*width) {
		return a
	}
	rows := max(1, 2*least/max(usual(c.t), 1e-9))
	widen(c.t, smooth, thin, share*(c.t[len(c.t)-1]-c.t[0]), least, fitNoise*noise/math.Sqrt(rows))
	a.values = smooth
	return a
}

// widen replaces each smoothed value by that of the widest line, of half down to least seconds on either side, that departs from it
// by no more than noise can: where the column bends, as power does while the turbo spools up, a wide line would miss it.
func widen(t, smooth []float64, c cells, half, least, noise float64) {
	for i, near := range smooth {
		for h := half; h > least && !math.IsNaN(near); h /= 2 {
			if v, _ := stats.Local(c.t, c.x, c.w, t[i], h, 1); math.Abs(v-near) <= noise {
				smooth[i] = v
				break
			}
		}
	}
}

// thin makes cells of a column of these rows, so that the fits cost the same at any rate.
func (c rows) thin(x []float64) cells {
	b := newBlock(schema.NewFrame(c.t), 0, len(c.t), usual(c.t))
	return b.thin(x)
}

func (c rows) speedAxis() axis { return c.axisOf(AxisSpeed, speedBin, 0) }

func (c rows) powerAxis(p *schema.Pull) axis {
	a := c.axisOf(AxisPower, powerBin, peakShare)
	top := -1
	for i, v := range a.values {
		if !math.IsNaN(v) && (top < 0 || v > a.values[top]) {
			top = i
		}
	}
	switch {
	case top < 0:
		a.values = nil
	case p.RPMTo < p.RPMFrom:
		a.row0 = top
	default:
		a.row1 = top
	}
	return a
}

// tally gathers one bin.
type tally struct {
	n       int
	sum     []float64 // Of value times duration, by column.
	time    []float64
	logged  [][]float64 // By column, where quantiles or an enumeration need the values.
	total   []float64   // Of the logged values.
	count   []int
	holding []map[float64]float64 // Time by code, of enumerations.
}

// bins puts a pull's rows and the lines between them into the bins of an axis.
func (c rows) bins(a axis, seg schema.Segment) []schema.Curve {
	tallies := map[int]*tally{}
	of := func(k int) *tally {
		if tallies[k] == nil {
			m := len(c.names)
			tallies[k] = &tally{sum: make([]float64, m), time: make([]float64, m), logged: make([][]float64, m), total: make([]float64, m), count: make([]int, m), holding: make([]map[float64]float64, m)}
		}
		return tallies[k]
	}
	for i := a.row0; i <= a.row1; i++ {
		if math.IsNaN(a.values[i]) {
			continue
		}
		y := of(int(math.Floor(a.values[i] / a.width)))
		y.n++
		for m, name := range c.names {
			v := c.columns[name][i]
			if math.IsNaN(v) {
				continue
			}
			y.total[m], y.count[m] = y.total[m]+v, y.count[m]+1
			if c.catalog[m].Quantiles || c.catalog[m].Type == "enum" {
				y.logged[m] = append(y.logged[m], v)
			}
		}
		if i < a.row1 {
			c.line(a, i, of)
		}
	}
	out := make([]schema.Curve, 0, len(tallies))
	for _, k := range slices.Sorted(maps.Keys(tallies)) {
		out = append(out, c.curve(a, seg, k, tallies[k]))
	}
	return out
}

// line adds the line from row i to the next to every bin that it passes through.
func (c rows) line(a axis, i int, of func(int) *tally) {
	from, to, seconds := a.values[i], a.values[i+1], c.t[i+1]-c.t[i]
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
			c.add(of(k), i, (u0+u1)/2, (u1-u0)*seconds)
		}
	}
}

// add counts the values at the share u of the way from row i to the next for some seconds.
func (c rows) add(y *tally, i int, u, seconds float64) {
	for m, name := range c.names {
		x := c.filled[name]
		col := &c.catalog[m]
		v := x[i]
		if col.Kind != schema.State {
			v += u * (x[i+1] - x[i])
		}
		if math.IsNaN(v) {
			continue
		}
		y.sum[m] += v * seconds
		y.time[m] += seconds
		if col.Type == "enum" {
			if y.holding[m] == nil {
				y.holding[m] = map[float64]float64{}
			}
			y.holding[m][v] += seconds
		}
	}
}

func (c rows) curve(a axis, seg schema.Segment, k int, y *tally) schema.Curve {
	out := schema.Curve{RunID: seg.RunID, SegmentID: seg.ID, Axis: a.name, Bin: (float64(k) + 0.5) * a.width, N: y.n,
		Mean: map[string]float64{}, P05: map[string]float64{}, P95: map[string]float64{}}
	for m, name := range c.names {
		col := &c.catalog[m]
		switch {
		case y.time[m] > 0:
			out.Mean[name] = y.sum[m] / y.time[m]
		case y.count[m] > 0:
			out.Mean[name] = y.total[m] / float64(y.count[m])
		default:
			continue
		}
		if col.Type == "enum" {
			out.Mean[name] = longest(y.holding[m], y.logged[m])
		}
		if col.Quantiles && len(y.logged[m]) > 0 {
			q := stats.Quantiles(y.logged[m], 0.05, 0.95)
			out.P05[name], out.P95[name] = q[0], q[1]
		}
	}
	return out
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
