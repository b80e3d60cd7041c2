package align

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"dynolake/schema"
)

const (
	// jitter is the largest step back, in seconds, that is taken for disorder among rows and not for a clock that was set.
	jitter = 1.0
	// standstill is the share of rows on one stamp above which a clock counts as stopped.
	standstill = 0.5
)

// Repair makes every clock of the log strictly increasing, in place. Rows without a time and exact repeats are dropped, rows
// out of order by up to a second are sorted, a clock that was set back goes on one usual step later, rows on one stamp of a
// coarse clock are spread over its tick, others are merged with the later value winning. A series whose clock stands still
// is removed. Each is a finding with its count.
func Repair(l *schema.Log) []schema.Finding {
	var found []schema.Finding
	kept := l.Series[:0]
	for _, s := range l.Series {
		r := repair{source: l.Source, s: &s}
		r.dropUntimed()
		r.bridgeSetBack()
		r.sortJitter()
		if r.stopped() {
			found = append(found, r.found...)
			continue
		}
		r.settleTies()
		found = append(found, r.found...)
		kept = append(kept, s)
	}
	l.Series = kept
	return found
}

type repair struct {
	source string
	s      *schema.Series
	found  []schema.Finding
}

func (r *repair) find(sev schema.Severity, code string, value float64, unit, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if r.s.Name != "" {
		text = r.s.Name + ": " + text
	}
	nan := math.NaN()
	r.found = append(r.found, schema.Finding{Source: r.source, Severity: sev, Code: code, Channel: r.s.Clock.Name, Text: text, Value: value, Unit: unit, T0S: nan, T1S: nan})
}

func (r *repair) dropUntimed() {
	if n := r.keep(func(i int) bool { return !math.IsNaN(r.s.T[i]) && !math.IsInf(r.s.T[i], 0) }); n > 0 {
		r.find(schema.Doubt, "rows_without_time", float64(n), "rows", "%d rows have no time and were dropped", n)
	}
}

// bridgeSetBack moves on what follows a large step back, which is no restart (the reader tells those).
func (r *repair) bridgeSetBack() {
	t, step, worst, count, add := r.s.T, usualStep(r.s.T), 0.0, 0, 0.0
	top := math.Inf(-1)
	for i := range t {
		t[i] += add
		if t[i] < top-jitter {
			fix := top + step - t[i]
			worst, count = math.Max(worst, top-t[i]), count+1
			add += fix
			t[i] += fix
		}
		top = math.Max(top, t[i])
	}
	if count > 0 {
		r.find(schema.Doubt, "clock_set_back", worst, "s", "the clock falls back by up to %.3g s, %d times, not to its beginning: later rows go on one usual step (%.3g s) after the row before", worst, count, step)
	}
}

func (r *repair) sortJitter() {
	t, back, worst := r.s.T, 0, 0.0
	for i := 1; i < len(t); i++ {
		if t[i] < t[i-1] {
			back++
			worst = math.Max(worst, t[i-1]-t[i])
		}
	}
	if back == 0 {
		return
	}
	order := make([]int, len(t))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return t[order[a]] < t[order[b]] })
	r.reorder(order)
	r.find(schema.Note, "rows_out_of_order", float64(back), "rows", "time steps back %d times, by up to %.3g s: rows were sorted by time", back, worst)
}

// stopped tells a clock that stands still for most of the log; its rows cannot be placed.
func (r *repair) stopped() bool {
	t, longest, count := r.s.T, 0, 0
	for i := range t {
		if i > 0 && t[i] == t[i-1] {
			count++
		} else {
			count = 1
		}
		longest = max(longest, count)
	}
	if longest < 4 || float64(longest) <= standstill*float64(len(t)) {
		return false
	}
	r.find(schema.Rejected, "clock_stopped", float64(longest), "rows", "the clock stands still for %d of %d rows: these channels cannot be placed in time", longest, len(t))
	return true
}

// settleTies gives every row its own time. A series of one channel keeps rows on one time: nothing else hangs on them, what is
// left unmapped stays as logged, and where values are placed in time the later one wins.
func (r *repair) settleTies() {
	if len(r.s.Channels) == 1 && !r.coarse() {
		return
	}
	if r.coarse() && r.repeats() < 0.9 {
		r.spread()
		return
	}
	if n := r.keepDistinct(); n > 0 {
		r.find(schema.Note, "repeated_rows", float64(n), "rows", "%d rows repeat the row before exactly and were dropped", n)
	}
	t := r.s.T
	distinct := len(dedupe(t))
	switch {
	case distinct == len(t):
	case r.coarse():
		r.spread()
	default:
		n := r.mergeTies()
		r.find(schema.Note, "rows_on_one_time", float64(n), "rows", "%d rows carry the time of the row before: merged, the later value winning", n)
	}
}

// coarse tells a clock whose ticks hold several rows each.
func (r *repair) coarse() bool {
	distinct := len(dedupe(r.s.T))
	return distinct > 2 && float64(len(r.s.T)) >= 1.5*float64(distinct)
}

// spread places the rows of a coarse clock evenly over its ticks. Rows that repeat the one before are kept: a stopped engine's
// readings do not move.
func (r *repair) spread() {
	t := r.s.T
	stamps := dedupe(t)
	tick := usualStep(stamps)
	spread(t, tick)
	r.find(schema.Note, "coarse_clock", tick, "s", "the clock ticks every %.3g s with %.1f rows on a tick: rows were spread evenly over it", tick, float64(len(t))/float64(len(stamps)))
}

// repeats is the share of the rows on the time of the row before that equal it in every value: nearly all where a recorder writes
// each row twice, and some where a coarse clock's readings stand still.
func (r *repair) repeats() float64 {
	ties, same := 0, 0
	for i := 1; i < len(r.s.T); i++ {
		if r.s.T[i] == r.s.T[i-1] {
			ties++
			if r.same(i) {
				same++
			}
		}
	}
	return float64(same) / float64(max(ties, 1))
}

// same reports a row that equals the one before in every value.
func (r *repair) same(i int) bool {
	for _, v := range r.s.Values {
		if v[i] != v[i-1] && !(math.IsNaN(v[i]) && math.IsNaN(v[i-1])) {
			return false
		}
	}
	return true
}

// keepDistinct drops rows that equal the row before in time and every value.
func (r *repair) keepDistinct() int {
	texts := map[int]bool{}
	for _, x := range r.s.Texts {
		texts[x.Row] = true
	}
	return r.keep(func(i int) bool {
		return i == 0 || r.s.T[i] != r.s.T[i-1] || texts[i] || texts[i-1] || !r.same(i)
	})
}

func (r *repair) mergeTies() int {
	t := r.s.T
	for i := 1; i < len(t); i++ {
		if t[i] != t[i-1] {
			continue
		}
		for _, v := range r.s.Values {
			if math.IsNaN(v[i]) {
				v[i] = v[i-1]
			}
		}
	}
	last := r.s.T
	return r.keep(func(i int) bool { return i+1 == len(last) || last[i] != last[i+1] })
}

// keep drops the rows for which ok is false and counts them. ok sees the rows as they were.
func (r *repair) keep(ok func(int) bool) int {
	order := make([]int, 0, len(r.s.T))
	for i := range r.s.T {
		if ok(i) {
			order = append(order, i)
		}
	}
	dropped := len(r.s.T) - len(order)
	if dropped > 0 {
		r.reorder(order)
	}
	return dropped
}

// reorder takes the rows in the given order.
func (r *repair) reorder(order []int) {
	r.s.T = pick(r.s.T, order)
	for c := range r.s.Values {
		r.s.Values[c] = pick(r.s.Values[c], order)
	}
	place := make(map[int]int, len(r.s.Texts))
	if len(r.s.Texts) > 0 {
		for to, from := range order {
			place[from] = to
		}
	}
	texts := r.s.Texts[:0]
	for _, x := range r.s.Texts {
		if to, ok := place[x.Row]; ok {
			x.Row = to
			texts = append(texts, x)
		}
	}
	r.s.Texts = texts
}

func pick(v []float64, order []int) []float64 {
	out := make([]float64, len(order))
	for i, from := range order {
		out[i] = v[from]
	}
	return out
}

func dedupe(t []float64) []float64 { return slices.Compact(slices.Clone(t)) }

// spread places rows that share a stamp evenly from that stamp on, within one tick or up to the next stamp.
func spread(t []float64, tick float64) {
	for i := 0; i < len(t); {
		j := i
		for j < len(t) && t[j] == t[i] {
			j++
		}
		width := tick
		if j < len(t) {
			width = math.Min(tick, t[j]-t[i])
		}
		from := t[i]
		for k := i; k < j; k++ {
			t[k] = from + width*float64(k-i)/float64(j-i)
		}
		i = j
	}
}

// usualStep is the median positive step of a clock, in seconds; 0 with fewer than two rows.
func usualStep(t []float64) float64 {
	steps := make([]float64, 0, len(t))
	for i := 1; i < len(t); i++ {
		if d := t[i] - t[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}
