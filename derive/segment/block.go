package segment

import (
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Grid of detection: 20 Hz is fine enough for a shift of 0.2 s. Slower logs get four points a row.
const (
	gridStep   = 0.05
	gridPerRow = 4
	minGap     = 0.5 // s. A value is taken to hold, or to move straight, for this long or for three of its own periods.
	gapPeriods = 3
	gapUneven  = 1.5 // Of the long distances between values, where a recorder polls in bursts; but no more than
	gapMost    = 3.0 // s.
	blockGap   = 2.0 // s. A hole in the clock this long, and longer than the periods below, ends a block.
	blockRows  = 6
)

// block is a stretch of rows without a gap in time, with its grid. Row1 is behind its last row.
type block struct {
	frame      *schema.Frame
	row0, row1 int
	step       float64
	t          []float64 // Grid times.
	cells      map[string]cells
	tracks     map[trackKey]*track
	none       *track       // That of every column which was not logged.
	ratio      []float64    // See scan.ratio.
	locked     [][2]float64 // See lockings.
	gears      []rest       // See rests.
	lockups    []stats.Span // As found.
}

type trackKey struct {
	name string
	half float64
}

type track struct{ value, slope []float64 }

// cells are a column's values, thinned to at most one a grid step: mean times, mean values and how many rows each stands for.
type cells struct {
	t, x, w []float64
	gap     float64 // Longest distance between two values that may be bridged.
}

// blocks cuts a frame where its clock has holes.
func blocks(f *schema.Frame) []*block {
	var out []*block
	period := usual(f.T)
	limit := max(blockGap, blockRows*period)
	for from := 0; from < f.Len(); {
		to := from + 1
		for to < f.Len() && f.T[to]-f.T[to-1] <= limit {
			to++
		}
		if to-from >= 3 {
			out = append(out, newBlock(f, from, to, period))
		}
		from = to
	}
	return out
}

func newBlock(f *schema.Frame, row0, row1 int, period float64) *block {
	b := &block{frame: f, row0: row0, row1: row1, step: max(gridStep, period/gridPerRow), cells: map[string]cells{}, tracks: map[trackKey]*track{}}
	first, last := f.T[row0], f.T[row1-1]
	n := int((last-first)/b.step+1e-6) + 1
	b.t = make([]float64, n)
	for i := range b.t {
		b.t[i] = first + float64(i)*b.step
	}
	return b
}

// points is a time as a count of grid points, at least one.
func (b *block) points(seconds float64) int { return max(1, int(math.Round(seconds/b.step))) }

// at is the grid index nearest to a time.
func (b *block) at(t float64) int {
	return min(max(int(math.Round((t-b.t[0])/b.step)), 0), len(b.t)-1)
}

// cellsOf thins a column once and keeps the result.
func (b *block) cellsOf(name string) cells {
	if c, ok := b.cells[name]; ok {
		return c
	}
	c := b.thin(b.frame.Column(name))
	b.cells[name] = c
	return c
}

func (b *block) thin(column []float64) cells {
	var c cells
	if column == nil {
		return c
	}
	cell := -1
	times := make([]float64, 0, b.row1-b.row0)
	for i := b.row0; i < b.row1; i++ {
		t, x := b.frame.T[i], column[i]
		if math.IsNaN(x) || math.IsInf(x, 0) {
			continue
		}
		times = append(times, t)
		if k := int((t-b.t[0])/b.step + 1e-6); k != cell {
			cell = k
			c.t, c.x, c.w = append(c.t, t), append(c.x, x), append(c.w, 1)
			continue
		}
		n := len(c.t) - 1
		c.w[n]++
		c.t[n] += (t - c.t[n]) / c.w[n]
		c.x[n] += (x - c.x[n]) / c.w[n]
	}
	steps := stats.Quantiles(spacing(times), 0.5, 0.9)
	c.gap = max(minGap, gapPeriods*orZero(steps[0]), min(gapUneven*orZero(steps[1]), gapMost))
	return c
}

// track is a column on the grid: the value and slope of a line fitted to what was logged within half seconds, or drawn
// between the neighbours where fewer than three values lie there. Missing across a gap. The slices are shared: they are kept.
func (b *block) track(name string, half float64) (value, slope []float64) {
	key := trackKey{name, half}
	k := b.tracks[key]
	if k == nil {
		if c := b.cellsOf(name); len(c.t) > 0 {
			k = &track{}
			k.value, k.slope = b.fit(c, half)
		} else {
			k = b.missing()
		}
		b.tracks[key] = k
	}
	return k.value, k.slope
}

// missing is the track of a column without values, one for all of them: of a long log with few channels most are.
func (b *block) missing() *track {
	if b.none == nil {
		none := schema.Missing(len(b.t))
		b.none = &track{none, none}
	}
	return b.none
}

func (b *block) fit(c cells, half float64) (value, slope []float64) {
	value, slope = schema.Missing(len(b.t)), schema.Missing(len(b.t))
	if len(c.t) == 0 {
		return value, slope
	}
	next, from, to := 0, 0, 0
	for i, t := range b.t {
		for next < len(c.t) && c.t[next] < t {
			next++
		}
		for from < len(c.t) && c.t[from] < t-half-1e-9 {
			from++
		}
		for to < len(c.t) && c.t[to] <= t+half+1e-9 {
			to++
		}
		value[i], slope[i] = c.between(next, t)
		if to-from >= 3 && !math.IsNaN(value[i]) {
			v, s := stats.Local(c.t[from:to], c.x[from:to], c.w[from:to], t, half+1e-6, 1)
			if !math.IsNaN(s) {
				value[i], slope[i] = v, s
			}
		}
	}
	return value, slope
}

// between draws a line through the values around t; next is the first at or after it. The nearest value holds at the ends.
func (c cells) between(next int, t float64) (value, slope float64) {
	switch {
	case next == len(c.t):
		if t-c.t[next-1] <= c.gap {
			return c.x[next-1], 0
		}
	case c.t[next] == t:
		return c.x[next], c.slope(next)
	case next == 0:
		if c.t[0]-t <= c.gap {
			return c.x[0], 0
		}
	case c.t[next]-c.t[next-1] <= c.gap:
		s := c.slope(next)
		return c.x[next-1] + s*(t-c.t[next-1]), s
	}
	return math.NaN(), math.NaN()
}

func (c cells) slope(next int) float64 {
	if next == 0 || c.t[next]-c.t[next-1] > c.gap {
		return 0
	}
	return (c.x[next] - c.x[next-1]) / (c.t[next] - c.t[next-1])
}

// spacing is the distances between times, some thousands of them spread over all.
func spacing(t []float64) []float64 {
	const enough = 4096
	stride := max(1, len(t)/enough)
	d := make([]float64, 0, len(t)/stride+1)
	for i := 1; i < len(t); i += stride {
		d = append(d, t[i]-t[i-1])
	}
	return d
}

// usual is the median distance between times; 0 for fewer than two.
func usual(t []float64) float64 { return orZero(stats.Median(spacing(t))) }
