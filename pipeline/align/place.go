package align

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// Placement is where a recorder's clock lies on the first recorder's.
type Placement struct {
	Shift  float64 // Seconds added to the recorder's time.
	Placed bool    // False: the recorder could not be placed and its channels stay in unmapped.
	R      float64 // Correlation at the shift; 1 for the reference, NaN where absolute time decided.
}

const (
	// sureR is the least correlation of the shared signal at which a shift is believed.
	sureR = 0.9
	// sureLead is how far the best lag must stand above the best one elsewhere.
	sureLead = 0.01
	// sureTimes is how often the unexplained share of the variance, 1 - r², must be left by the best lag elsewhere otherwise.
	sureTimes = 4
	// sharedMin is the least overlap of a shared signal, seconds, that a shift may rest on.
	sharedMin = 5.0
)

// signals are what recorders are aligned by, in order of preference; columns in one entry may stand for each other.
var signals = [][]string{{"engine_speed_rpm"}, {"vehicle_speed_kmh", "roller_speed_kmh"}}

// Place finds each log's shift onto the reference, which is the log with most rows of a shared signal. One log alone is its
// own reference. A log that shares no signal, or whose correlation is low, is placed by absolute time if both have one;
// otherwise it is left unplaced with a finding that says what to add.
func Place(logs []schema.Log, claims []schema.Claim) ([]Placement, []schema.Finding) {
	places := make([]Placement, len(logs))
	if len(logs) == 0 {
		return places, nil
	}
	ref := reference(logs, claims)
	places[ref] = Placement{Placed: true, R: 1}
	var found []schema.Finding
	for i := range logs {
		if i == ref {
			continue
		}
		p, f := placeOne(logs, claims, ref, i)
		places[i] = p
		found = append(found, f)
	}
	return places, found
}

func reference(logs []schema.Log, claims []schema.Claim) int {
	best, rows := 0, -1
	for i := range logs {
		for _, names := range signals {
			if s, _, ok := signal(logs, claims, i, names); ok && len(s.t) > rows {
				best, rows = i, len(s.t)
			}
			if rows >= 0 && best == i {
				break
			}
		}
	}
	return best
}

func placeOne(logs []schema.Log, claims []schema.Claim, ref, i int) (Placement, schema.Finding) {
	nan := math.NaN()
	f := schema.Finding{Source: logs[i].Source, Unit: "s", T0S: nan, T1S: nan, Value: nan}
	tried := ""
	for _, names := range signals {
		a, _, okA := signal(logs, claims, ref, names)
		b, channel, okB := signal(logs, claims, i, names)
		if !okA || !okB {
			continue
		}
		m := correlate(a, b)
		if m.sure() {
			f.Severity, f.Code, f.Channel, f.Value = schema.Note, "aligned", channel, m.lag
			f.Text = fmt.Sprintf("moved by %+.3f s onto %s by %s: correlation %.4f over %.0f s, next best lag %.4f", m.lag, logs[ref].Source, names[0], m.r, m.overlap, m.rival)
			return Placement{Shift: m.lag, Placed: true, R: m.r}, f
		}
		tried += fmt.Sprintf("; %s correlates %.3f (next best lag %.3f, %.0f s shared), wanted %.2f and no lag as good", names[0], m.r, m.rival, m.overlap, sureR)
	}
	if tried == "" {
		tried = "; no engine speed or road speed is in both"
	}
	if shift, ok := absolute(logs[ref], logs[i]); ok {
		f.Severity, f.Code, f.Value = schema.Doubt, "aligned_by_clock", shift
		f.Text = fmt.Sprintf("moved by %+.3f s onto %s by the recorders' own date and time, which may be off by seconds%s", shift, logs[ref].Source, tried)
		return Placement{Shift: shift, Placed: true, R: nan}, f
	}
	f.Severity, f.Code = schema.Doubt, "not_aligned"
	f.Text = fmt.Sprintf("could not be placed beside %s%s: its channels stay in unmapped; log engine speed in both, or give both a date and time", logs[ref].Source, tried)
	return Placement{}, f
}

// signal finds a log's best-claimed channel among the columns.
func signal(logs []schema.Log, claims []schema.Claim, log int, columns []string) (trace, string, bool) {
	var best trace
	name, sure := "", -1.0
	for _, column := range columns {
		for _, c := range claims {
			if c.Log != log || c.Column != column || c.Confidence <= sure {
				continue
			}
			s := logs[log].Series[c.Series]
			if tr := newTrace(s.T, stored(s, c, make([]float64, len(s.T))), schema.Continuous); len(tr.t) > 2 {
				best, name, sure = tr, s.Channels[c.Channel].Name, c.Confidence
			}
		}
	}
	return best, name, sure >= 0
}

// absolute gives the shift by the recorders' own dates, when both have one of the same kind.
func absolute(ref, l schema.Log) (float64, bool) {
	a, okA := start(ref)
	b, okB := start(l)
	if !okA || !okB || a.Zoned != b.Zoned {
		return 0, false
	}
	shift := b.Start.Sub(a.Start).Seconds()
	ra, rb := span(ref), span(l)
	if rb[0]+shift > ra[1]+60 || rb[1]+shift < ra[0]-60 {
		return 0, false // They were not recorded at the same time.
	}
	return shift, true
}

func start(l schema.Log) (schema.Clock, bool) {
	for _, s := range l.Series {
		if !s.Clock.Start.IsZero() {
			return s.Clock, true
		}
	}
	return schema.Clock{}, false
}

func span(l schema.Log) [2]float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range l.Series {
		if n := len(s.T); n > 0 {
			lo, hi = math.Min(lo, s.T[0]), math.Max(hi, s.T[n-1])
		}
	}
	return [2]float64{lo, hi}
}
