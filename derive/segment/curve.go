package segment

import (
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
	f, _ = clean(f)
	return curves(f, segments)
}

// curves reduces the pulls of a frame that is clean.
func curves(f *schema.Frame, segments []schema.Segment) []schema.Curve {
	var out []schema.Curve
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
	if !slices.ContainsFunc(x, math.IsNaN) {
		return x
	}
	out, times := slices.Clone(x), make([]float64, 0, len(x))
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
