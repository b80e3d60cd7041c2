package mapping

import (
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// score weighs a claim against another on the same column.
func (b *bench) score(i int) float64 {
	c := b.claims[i]
	tr := b.trace(i)
	col, _ := schema.Lookup(c.Column)
	_, ch := b.channel(i)
	s := c.Confidence
	if c.Rule != "" {
		s += 10
	}
	if !b.placed(c.Log) {
		s -= 20
	}
	if len(tr.v) > 0 {
		s += 0.05 * math.Log10(float64(len(tr.v)))
	}
	steady := col.Name == "ambient_c" || col.Name == "baro_kpa" || col.Name == "humidity_pct"
	if len(tr.v) > 1 && tr.low == tr.high && !steady && col.Kind == schema.Continuous {
		s -= 0.3
	}
	if c.AddBaro || c.TakeBaro {
		s -= 0.05
	}
	s -= lesser(col, ch.Name)
	if b.saturated(i) {
		s -= 0.3
	}
	return s - 2*b.outside(i)
}

// lesser is what a name takes from a claim: a figure asked for rather than measured, a second pedal, another load.
func lesser(col schema.Column, name string) float64 {
	words := table().canonical(tokens(name, true))
	off := 0.0
	if !strings.HasSuffix(col.Name, "_set_kpa") && col.Name != "vane_set_pct" && (contains(words, "set") || contains(words, "selected")) {
		off += 0.2
	}
	if col.Quantity != "pressure" && (contains(words, "absolute") || contains(words, "gauge")) || contains(words, "e") {
		off += 0.04
	}
	return off
}

// saturated reports whether a channel stays at the end of its eight bits, as a manifold pressure in kPa does at 255.
func (b *bench) saturated(i int) bool {
	c := b.claims[i]
	tr := b.trace(i)
	n := len(tr.v)
	return c.Unit == "kPa" && n >= 3 && tr.high == 255 && tr.order.nth(n-3) == 255
}

// beats reports whether claim i is to hold a column rather than claim j. It depends on what the channels are, not on their order.
func (b *bench) beats(i, j int) bool {
	if si, sj := b.score(i), b.score(j); math.Abs(si-sj) > 1e-9 {
		return si > sj
	}
	logI, chI := b.channel(i)
	logJ, chJ := b.channel(j)
	for _, pair := range [][2]string{{chI.Name, chJ.Name}, {chI.Unit, chJ.Unit}, {logI.Source, logJ.Source}, {groupOf(logI, b.claims[i]), groupOf(logJ, b.claims[j])}} {
		if pair[0] != pair[1] {
			return pair[0] < pair[1]
		}
	}
	ti, tj := b.trace(i), b.trace(j)
	if len(ti.v) != len(tj.v) {
		return len(ti.v) > len(tj.v)
	}
	for k := range ti.v {
		if ti.v[k] != tj.v[k] {
			return ti.v[k] > tj.v[k]
		}
	}
	return i < j
}

func groupOf(log schema.Log, c schema.Claim) string { return log.Series[c.Series].Name }

// contests gives each column to the claim with the better evidence; the others stay in unmapped, and each is told.
func (b *bench) contests() {
	for _, col := range schema.Columns() {
		winner := -1
		for i, c := range b.claims {
			if c.Column == col.Name && (winner < 0 || b.beats(i, winner)) {
				winner = i
			}
		}
		for i, c := range b.claims {
			if c.Column == col.Name && i != winner {
				b.claims[i].Lost = true
				b.tellLost(i, winner, col)
			}
		}
	}
}

func (b *bench) tellLost(loser, winner int, col schema.Column) {
	logW, chW := b.channel(winner)
	_, chL := b.channel(loser)
	gap, same := b.differ(loser, winner)
	severity := schema.Note
	how := "they share no time to be compared at"
	switch {
	case same:
		how = "their values are identical"
	case !math.IsNaN(gap):
		how = fmt.Sprintf("they differ by %.4g %s in the median", gap, col.Unit)
		if span := b.span(winner); gap > 0.1*span && gap > 0 {
			severity = schema.Doubt
		}
	}
	text := fmt.Sprintf("%q and %q (%s) both are %s: %q holds it (%s), this one stays in unmapped; %s", chL.Name, chW.Name, logW.Source, col.Name, chW.Name, b.better(winner, loser), how)
	b.find(loser, severity, "contested_column", text, gap, col.Unit)
	b.claims[loser].Why += fmt.Sprintf("; %q holds the column: %s", chW.Name, how)
}

// better words why one claim holds a column.
func (b *bench) better(winner, loser int) string {
	w, l := b.claims[winner], b.claims[loser]
	switch {
	case w.Rule != "" && l.Rule == "":
		return "a mapping says so"
	case !b.placed(l.Log) && b.placed(w.Log):
		return "the other's recorder could not be placed in time"
	case b.saturated(loser) && !b.saturated(winner):
		return "the other stays at the end of its range"
	case w.Confidence > l.Confidence+0.04:
		return "better name or unit"
	case len(b.trace(winner).v) > len(b.trace(loser).v):
		return "more values"
	}
	return "better evidence"
}

// differ is the median difference of two claims on a column in its unit, and whether all values are the same.
func (b *bench) differ(i, j int) (gap float64, same bool) {
	ti, tj := b.trace(i), b.trace(j)
	level := func(c schema.Claim) float64 {
		switch {
		case c.AddBaro:
			return orStandard(b.baro.KPa)
		case c.TakeBaro:
			return -orStandard(b.baro.KPa)
		}
		return 0
	}
	shift := level(b.claims[i]) - level(b.claims[j])
	var gaps []float64
	for k, t := range ti.t {
		if o := tj.at(t); !math.IsNaN(o) {
			gaps = append(gaps, math.Abs(ti.v[k]+shift-o))
		}
	}
	same = len(gaps) == len(ti.v) && len(ti.v) == len(tj.v) && len(gaps) > 0
	for _, g := range gaps {
		same = same && g == 0
	}
	return median(gaps), same
}

func (b *bench) span(i int) float64 {
	tr := b.trace(i)
	return tr.quantile(0.99) - tr.quantile(0.01)
}
