package segment

import (
	"cmp"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Kinds of segment.
const (
	KindPull   = "pull"
	KindSteady = "steady"
	KindShift  = "shift"
	KindLockup = "lockup"
	KindBrake  = "brake"
	KindRegen  = "regen"
	KindCoast  = "coast"
	KindIdle   = "idle"
)

// Context is what is known of a run beside its rows. The zero value, with Gear NaN, is a run of which nothing is known.
type Context struct {
	Vehicle  *schema.Vehicle // Nil when unknown: gears are then not numbered and speeds are judged by the log itself.
	Test     string          // sweep, steps, road, coast or other; empty when unknown.
	DynoKind string          // inertia, brake or none; empty when unknown.
	Gear     float64         // The sheet's gear, NaN when not stated. 0 counts as not stated.
}

// scan is one pass over a frame: its blocks, what full pedal and idle are in this log, and what was found so far.
type scan struct {
	Context
	frame    *schema.Frame
	blocks   []*block
	speed    string    // The column that road speed is taken from, empty without one.
	idle     float64   // Idle speed of this log, NaN when it never idles.
	top      float64   // Engine speed at the upper end of the range: rated, else the highest logged.
	pedal    pedal     // How the pedal is logged.
	geared   []float64 // ln(engine speed / road speed) by gear, nil when unknown.
	segments []schema.Segment
	findings []schema.Finding
	once     map[string]int // Findings of which a run has one, by code: its place in findings.
}

// Find finds the segments of a run and whatever had to be guessed on the way. Segments come ordered by time with their
// ids counted from 0; RunID is left to the caller. A frame without rows, or with nothing but missing values, has none.
func Find(f *schema.Frame, ctx Context) ([]schema.Segment, []schema.Finding) {
	f, spiked := clean(f)
	return find(f, spiked, ctx)
}

// All is Find, and Curves of what it finds, at less cost than the two.
func All(f *schema.Frame, ctx Context) ([]schema.Segment, []schema.Curve, []schema.Finding) {
	f, spiked := clean(f)
	segments, found := find(f, spiked, ctx)
	return segments, curves(f, segments), found
}

// find looks into a frame that is clean.
func find(f *schema.Frame, spiked map[string]int, ctx Context) ([]schema.Segment, []schema.Finding) {
	if ctx.Gear == 0 {
		ctx.Gear = math.NaN()
	}
	s := &scan{Context: ctx, frame: f, blocks: blocks(f)}
	s.tellSpikes(spiked)
	s.calibrate()
	shifts := make([][]event, len(s.blocks))
	for i, b := range s.blocks {
		shifts[i] = s.shifts(b)
	}
	var pulls []pull
	for i, b := range s.blocks {
		pulls = append(pulls, s.pulls(b, shifts[i])...)
	}
	s.addPulls(pulls)
	for i, b := range s.blocks {
		s.regen(b)
		s.quiet(b, shifts[i], pulls)
	}
	slices.SortStableFunc(s.segments, func(a, b schema.Segment) int {
		return cmp.Or(cmp.Compare(a.T0S, b.T0S), cmp.Compare(a.T1S, b.T1S), cmp.Compare(a.Kind, b.Kind))
	})
	for i := range s.segments {
		s.segments[i].ID = i
	}
	return s.segments, s.findings
}

// add appends a segment over the rows whose times lie within [t0, t1]; it is snapped to them. Nil when there is none.
func (s *scan) add(b *block, kind string, t0, t1 float64) *schema.Segment {
	rows := s.frame.T[b.row0:b.row1]
	r0 := b.row0 + stats.Lower(rows, t0-1e-9)
	r1 := b.row0 + stats.Lower(rows, t1+1e-9) - 1
	if r0 > r1 {
		return nil
	}
	s.segments = append(s.segments, schema.Segment{
		ID: -1, Kind: kind, T0S: s.frame.T[r0], T1S: s.frame.T[r1], Row0: r0, Row1: r1, MeanRPM: math.NaN()})
	return &s.segments[len(s.segments)-1]
}

// addSpan is add for grid indices, with the mean engine speed.
func (s *scan) addSpan(b *block, kind string, span stats.Span) {
	seg := s.add(b, kind, b.t[span.From], b.t[span.To-1])
	if seg == nil {
		return
	}
	seg.MeanRPM = mean(s.frame.Column("engine_speed_rpm"), seg.Row0, seg.Row1)
}

func (s *scan) find(severity schema.Severity, code, channel, text string, value float64, unit string, t0, t1 float64) {
	s.findings = append(s.findings, schema.Finding{
		Severity: severity, Code: code, Channel: channel, Text: text, Value: value, Unit: unit, T0S: t0, T1S: t1})
}

// findOnce keeps one finding of a kind for the run: its first text, how often it was found, and over what time.
func (s *scan) findOnce(severity schema.Severity, code, channel, text string, t0, t1 float64) {
	if s.once == nil {
		s.once = map[string]int{}
	}
	i, ok := s.once[code]
	if !ok {
		s.once[code] = len(s.findings)
		s.find(severity, code, channel, text, 1, "", t0, t1)
		return
	}
	s.findings[i].Value++
	s.findings[i].T1S = max(s.findings[i].T1S, t1)
}

// mean is the plain mean of the values present in rows r0 to r1, NaN without one or without the column.
func mean(column []float64, r0, r1 int) float64 {
	sum, n := 0.0, 0
	for i := r0; i <= r1 && i < len(column); i++ {
		if v := column[i]; !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}
