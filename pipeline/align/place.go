package align

import (
	"fmt"
	"math"
	"time"

	"dynolake/schema"
)

// shared is what recorders are aligned by: columns that may stand for each other, and the share by which two instruments may
// read differently on the way (a tyre slips, a roller does not).
type shared struct {
	columns []string
	loose   float64
}

func signals() []shared { // In order of preference.
	return []shared{{[]string{"engine_speed_rpm"}, 0.003}, {[]string{"vehicle_speed_kmh", "roller_speed_kmh"}, 0.01}}
}

// Place finds each log's place on the clock of the reference, which is the log with most rows of a shared signal. One log alone
// is its own reference. A log that shares no signal with the reference is placed by way of another one where it can; one that
// shares none at all, or whose correlation is low, is placed by absolute time if both have one (loc is the zone of times
// without one); otherwise it is left unplaced with a finding that says what to add.
func Place(logs []schema.Log, claims []schema.Claim, loc *time.Location) ([]Placement, []schema.Finding) {
	places := make([]Placement, len(logs))
	if len(logs) == 0 {
		return places, nil
	}
	c := company{logs: logs, claims: claims, loc: loc}
	ref := c.reference()
	places[ref] = Placement{Placed: true, R: 1, Sure: 1}
	results := make([]outcome, len(logs))
	for i := range logs {
		if i != ref {
			results[i] = c.pair(ref, i)
			places[i] = results[i].place
		}
	}
	for moved := true; moved; { // Who is placed by a signal can place others.
		moved = false
		for i := range logs {
			for via := range logs {
				if i == ref || via == ref || via == i || results[i].bySignal || !results[via].bySignal {
					continue
				}
				if o := c.pair(via, i); o.bySignal {
					o.place = o.place.through(places[via])
					results[i], places[i], moved = o, o.place, true
				}
			}
		}
	}
	var found []schema.Finding
	for i := range logs {
		found = append(found, results[i].found...)
	}
	return places, found
}

// company is the recorders of one run.
type company struct {
	logs   []schema.Log
	claims []schema.Claim
	loc    *time.Location
}

// outcome is how one recorder was placed on another's clock.
type outcome struct {
	place    Placement
	bySignal bool
	found    []schema.Finding
}

func (c company) reference() int {
	best, rows := 0, -1
	for i := range c.logs {
		for _, sig := range signals() {
			if s, _, ok := c.signal(i, sig.columns); ok && len(s.t) > rows {
				best, rows = i, len(s.t)
			}
			if rows >= 0 && best == i {
				break
			}
		}
	}
	return best
}

// pair places one log on another's clock.
func (c company) pair(ref, i int) outcome {
	hint, dated := c.absolute(ref, i)
	tried := ""
	for _, sig := range signals() {
		a, _, okA := c.signal(ref, sig.columns)
		b, channel, okB := c.signal(i, sig.columns)
		if !okA || !okB {
			continue
		}
		m := correlate(a, b, sig.loose, hint)
		if m.sure() {
			return c.placed(m, ref, i, sig.columns[0], channel, hint)
		}
		tried += "; " + sig.columns[0] + " " + m.doubt()
	}
	if tried == "" {
		tried = "; no engine speed or road speed is in both"
	}
	f := c.finding(i)
	if dated {
		f.Severity, f.Code, f.Value = schema.Doubt, "aligned_by_clock", hint
		f.Text = fmt.Sprintf("moved by %+.3f s onto %s by the recorders' own date and time, which may be off by seconds%s", hint, c.logs[ref].Source, tried)
		return outcome{place: Placement{Shift: hint, Placed: true, R: math.NaN()}, found: []schema.Finding{f}}
	}
	f.Severity, f.Code = schema.Doubt, "not_aligned"
	f.Text = fmt.Sprintf("could not be placed beside %s%s: its channels stay in unmapped; log engine speed in both, or give both a date and time", c.logs[ref].Source, tried)
	return outcome{found: []schema.Finding{f}}
}

func (c company) finding(i int) schema.Finding {
	nan := math.NaN()
	return schema.Finding{Source: c.logs[i].Source, Unit: "s", T0S: nan, T1S: nan, Value: nan}
}

// placed says how a recorder was placed by a signal: its shift at its first row, how sure that is, and the drift.
func (c company) placed(m match, ref, i int, column, channel string, hint float64) outcome {
	own := span(c.logs[i])
	p := Placement{Shift: m.lag + m.drift*(own[0]-m.pivot), Drift: m.drift, Pivot: own[0], Placed: true, R: m.r, Sure: m.confidence()}
	f := c.finding(i)
	f.Severity, f.Code, f.Channel, f.Value = schema.Note, "aligned", channel, p.Shift
	f.Text = fmt.Sprintf("moved by %+.3f s onto %s by %s: correlation %.4f over %.0f s, next best lag %.4f, confidence %.2f", p.Shift, c.logs[ref].Source, column, m.r, m.overlap, m.rival, p.Sure)
	if m.line.n > 0 {
		f.Text += fmt.Sprintf("; %d parts of it agree within %.3f s, the shift is known to ±%.3f s (95 %%)", m.line.n, m.line.worst, m.line.lagCI)
	}
	if m.ratio < 0.95 || m.ratio > 1.05 {
		f.Severity = schema.Doubt
		f.Text += fmt.Sprintf("; it reads %.3f times the other's swing: check its unit", m.ratio)
	}
	if m.byClock {
		f.Text += "; other lags are as good, and the recorders' dates and times decide for this one"
	} else if off := math.Abs(hint - m.lag); off > nearby {
		f.Text += fmt.Sprintf("; the recorders' dates and times are %.0f s off and were not believed", off)
	}
	out := outcome{place: p, bySignal: true, found: []schema.Finding{f}}
	if m.drift != 0 {
		d := c.finding(i)
		d.Severity, d.Code, d.Channel, d.Value, d.Unit = schema.Note, "clock_drift", channel, 1e6*m.drift, "ppm"
		d.Text = fmt.Sprintf("its clock runs %s by %.1f ± %.1f ppm (95 %%) against %s, %.3f s over the log: its times were stretched by that", slower(m.drift), 1e6*math.Abs(m.drift), 1e6*m.line.driftCI, c.logs[ref].Source, math.Abs(m.drift)*(own[1]-own[0]))
		out.found = append(out.found, d)
	}
	return out
}

func slower(drift float64) string {
	if drift > 0 {
		return "slow"
	}
	return "fast"
}

// signal finds a log's best-claimed channel among the columns.
func (c company) signal(log int, columns []string) (trace, string, bool) {
	var best trace
	name, sure := "", -1.0
	for _, column := range columns {
		for _, k := range c.claims {
			if k.Log != log || k.Column != column || k.Confidence <= sure {
				continue
			}
			s := c.logs[log].Series[k.Series]
			if tr := newTrace(s.T, stored(s, k, make([]float64, len(s.T))), schema.Continuous); len(tr.t) > 2 {
				best, name, sure = tr.withoutSpikes(), s.Channels[k.Channel].Name, k.Confidence
			}
		}
	}
	return best, name, sure >= 0
}

// absolute gives the shift by the recorders' own dates, when both have one; NaN otherwise. A time without a zone is the lake's.
func (c company) absolute(ref, i int) (float64, bool) {
	a, okA := start(c.logs[ref], c.loc)
	b, okB := start(c.logs[i], c.loc)
	if !okA || !okB {
		return math.NaN(), false
	}
	shift := b.Sub(a).Seconds()
	ra, rb := span(c.logs[ref]), span(c.logs[i])
	if rb[0]+shift > ra[1]+60 || rb[1]+shift < ra[0]-60 {
		return math.NaN(), false // They were not recorded at the same time.
	}
	return shift, true
}

func start(l schema.Log, loc *time.Location) (time.Time, bool) {
	for _, s := range l.Series {
		if at := s.Clock.Start; !at.IsZero() {
			if !s.Clock.Zoned {
				at = time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), at.Second(), at.Nanosecond(), loc)
			}
			return at, true
		}
	}
	return time.Time{}, false
}

// span is a log's first and last time.
func span(l schema.Log) [2]float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range l.Series {
		if n := len(s.T); n > 0 {
			lo, hi = math.Min(lo, s.T[0]), math.Max(hi, s.T[n-1])
		}
	}
	return [2]float64{lo, hi}
}
