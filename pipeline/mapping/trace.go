package mapping

import (
	"math"
	"slices"
	"sort"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// trace is a channel's values in the stored unit, as its claim has them without barometric, on the run's common clock.
type trace struct {
	log       int
	t, v      []float64
	low, high float64 // Of v.
	order     *ranks  // Of v; nil without values.
	reach     float64 // How far from a value its neighbour still counts, seconds.
}

// rank prepares what is asked of the values' order.
func (tr *trace) rank() {
	tr.order = ranked(tr.v)
	tr.low, tr.high = math.Inf(1), math.Inf(-1)
	for _, v := range tr.v {
		tr.low, tr.high = min(tr.low, v), max(tr.high, v)
	}
}

// quantile is the value below which a share of the values lies, NaN without any.
func (tr trace) quantile(q float64) float64 { return tr.order.quantile(q) }

// bench is one run under examination.
type bench struct {
	logs   []schema.Log
	claims []schema.Claim
	shifts []float64
	ctx    Context
	found  []schema.Finding
	traces map[int]trace
	clocks map[[2]int]shared // By log and series.
	states map[int][]rest
	baro   Baro
}

func (b *bench) channel(i int) (schema.Log, schema.Channel) {
	c := b.claims[i]
	log := b.logs[c.Log]
	return log, log.Series[c.Series].Channels[c.Channel]
}

func (b *bench) find(i int, severity schema.Severity, code, text string, value float64, unit string) {
	log, ch := b.channel(i)
	b.found = append(b.found, find(log.Source, severity, code, ch.Name, text, value, unit))
}

// aside takes a channel off its column, with the reason.
func (b *bench) aside(i int, why string) {
	c := &b.claims[i]
	c.Column, c.Why, c.AddBaro, c.TakeBaro, c.Confidence = "", why, false, false, 0
}

// clock is what is added to a log's time. A log that could not be placed lies far from all others.
func (b *bench) clock(log int) float64 {
	if log >= len(b.shifts) {
		return 0
	}
	if math.IsNaN(b.shifts[log]) {
		return 1e9 * float64(log+1)
	}
	return b.shifts[log]
}

// placed reports whether a log has a place on the common clock.
func (b *bench) placed(log int) bool { return log >= len(b.shifts) || !math.IsNaN(b.shifts[log]) }

// trace gives a channel's values. They are kept until its claim's scale changes, which forget tells.
func (b *bench) trace(i int) trace {
	if tr, ok := b.traces[i]; ok {
		return tr
	}
	c := b.claims[i]
	s := b.logs[c.Log].Series[c.Series]
	tr := trace{log: c.Log}
	values, clock := s.Values[c.Channel], b.sharedClock(c.Log, c.Series)
	n := min(len(s.T), len(values))
	tr.v = make([]float64, 0, n)
	for k, x := range values[:n] {
		if v := x*c.Scale + c.Offset; !math.IsNaN(v) && !math.IsInf(v, 0) && !math.IsNaN(s.T[k]) {
			tr.v = append(tr.v, v)
		}
	}
	if clock.t != nil && len(tr.v) == len(clock.t) {
		tr.t, tr.reach = clock.t, clock.reach
	} else {
		b.times(&tr, s, values[:n], c)
	}
	tr.rank()
	b.traces[i] = tr
	return tr
}

// times gives a trace the times of those of the values that it keeps, in order.
func (b *bench) times(tr *trace, s schema.Series, values []float64, c schema.Claim) {
	shift := b.clock(c.Log)
	tr.t = make([]float64, 0, len(tr.v))
	for k, x := range values {
		if v := x*c.Scale + c.Offset; !math.IsNaN(v) && !math.IsInf(v, 0) && !math.IsNaN(s.T[k]) {
			tr.t = append(tr.t, s.T[k]+shift)
		}
	}
	if !sort.Float64sAreSorted(tr.t) {
		sort.Stable(byTime(*tr))
	}
	tr.reach = reachOf(tr.t)
}

// shared is the clock of a series' channels that have a value in each of its rows; without times where it is out of order.
type shared struct {
	t     []float64
	reach float64
}

func (b *bench) sharedClock(log, series int) shared {
	key := [2]int{log, series}
	if c, ok := b.clocks[key]; ok {
		return c
	}
	var c shared
	shift, t := b.clock(log), b.logs[log].Series[series].T
	c.t = make([]float64, len(t))
	for k := range t {
		c.t[k] = t[k] + shift
	}
	if slices.ContainsFunc(c.t, math.IsNaN) || !sort.Float64sAreSorted(c.t) {
		c = shared{}
	} else {
		c.reach = reachOf(c.t)
	}
	b.clocks[key] = c
	return c
}

// reachOf is how far from a value its neighbour still counts, seconds.
func reachOf(t []float64) float64 {
	if reach := 3 * usualStep(t); reach > 1.5 {
		return reach
	}
	return 1.5
}

// usualStep is the median of the steps between times, NaN without any.
func usualStep(t []float64) float64 {
	if len(t) < 2 {
		return math.NaN()
	}
	steps := make([]float64, len(t)-1)
	for k := range steps {
		steps[k] = t[k+1] - t[k]
	}
	return stats.Nth(steps, len(steps)/2)
}

func (b *bench) forget(i int) { delete(b.traces, i) }

type byTime trace

func (x byTime) Len() int           { return len(x.t) }
func (x byTime) Less(i, j int) bool { return x.t[i] < x.t[j] }
func (x byTime) Swap(i, j int)      { x.t[i], x.t[j] = x.t[j], x.t[i]; x.v[i], x.v[j] = x.v[j], x.v[i] }

// at is the value at a time, between its neighbours; NaN where they are too far away.
func (tr trace) at(t float64) float64 {
	k := sort.SearchFloat64s(tr.t, t)
	if k < len(tr.t) && tr.t[k] == t {
		return tr.v[k]
	}
	switch {
	case len(tr.t) == 0:
		return math.NaN()
	case k == 0:
		return near(tr.t[0]-t, tr.reach, tr.v[0])
	case k == len(tr.t):
		return near(t-tr.t[k-1], tr.reach, tr.v[k-1])
	case tr.t[k]-tr.t[k-1] > tr.reach:
		if t-tr.t[k-1] < tr.t[k]-t {
			k--
		}
		return near(math.Abs(t-tr.t[k]), tr.reach/2, tr.v[k])
	}
	f := (t - tr.t[k-1]) / (tr.t[k] - tr.t[k-1])
	return tr.v[k-1] + f*(tr.v[k]-tr.v[k-1])
}

func near(gap, reach, v float64) float64 {
	if gap > reach {
		return math.NaN()
	}
	return v
}

// within gives the values between two times.
func (tr trace) within(t0, t1 float64) []float64 {
	from, to := sort.SearchFloat64s(tr.t, t0), sort.Search(len(tr.t), func(k int) bool { return tr.t[k] > t1 })
	if from >= to {
		return nil
	}
	return tr.v[from:to]
}

func median(v []float64) float64 {
	s := slices.DeleteFunc(slices.Clone(v), math.IsNaN)
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	middle := stats.Nth(s, n/2)
	if n%2 == 0 {
		return (slices.Max(s[:n/2]) + middle) / 2 // What Nth left before the middle is none of it larger.
	}
	return middle
}

// best is the surest claim of a column, in one log or, with log -1, in any; -1 when there is none.
func (b *bench) best(column string, log int) int {
	best := -1
	for i, c := range b.claims {
		if c.Column == column && (log < 0 || c.Log == log) && !c.Lost && len(b.trace(i).t) > 1 && (best < 0 || b.beats(i, best)) {
			best = i
		}
	}
	return best
}

// nearby is the surest claim of a column in a log, else in any that has a place on the common clock.
func (b *bench) nearby(column string, log int) int {
	if i := b.best(column, log); i >= 0 || !b.placed(log) {
		return i
	}
	return b.best(column, -1)
}
