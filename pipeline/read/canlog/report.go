package canlog

import (
	"bytes"
	"fmt"
	"strings"

	"dynolake/pipeline/read/canlog/frame"
	"dynolake/schema"
)

// clockFindings tells what was found of the clock.
func (r *run) clockFindings() {
	c, t := &r.clock, r.tally
	if c.deltas {
		t.other = append(t.other, t.finding(schema.Doubt, "clock_deltas", "time", c.sum, "s", "the times fall in most lines: they are read as times since the frame before (candump -t d) and added up"))
	}
	if c.backs > 0 {
		t.other = append(t.other, t.finding(schema.Note, "time_steps_back", "time", c.worst, "s", "time steps back %d×, by up to %.6f s, as where two buses are logged together: passed on as logged", c.backs, c.worst))
	}
	if c.bridges > 0 {
		t.other = append(t.other, t.finding(schema.Doubt, "clock_set_back", "time", c.bridged, "s", "the clock falls back %d×, by up to %.3f s, not to its beginning: later frames go on at the time of the frame before", c.bridges, c.bridged))
	}
	if c.gaps > 0 {
		f := t.finding(schema.Note, "clock_gap", "time", c.longest, "s", "no frame for more than %g s (%d×): the longest pause is %.3f s", gap, c.gaps, c.longest)
		f.T0S, f.T1S = c.gAt, c.gAt+c.longest
		t.other = append(t.other, f)
	}
	if n := t.of("recorder_restart").n; n > 0 {
		t.other = append(t.other, t.finding(schema.Note, "recorder_restart", "time", float64(n), "restarts", "restarts: %d: the time falls back to near its beginning, and what follows is a run of its own", n))
	}
}

// nothing says why a source gives no rows.
func (r *run) nothing() error {
	name := r.tally.source
	switch {
	case r.lines == 0:
		return fmt.Errorf("%s:1:1: no frame in it: expected candump lines such as (1594172461.968006) can0 0C8#F000", name)
	case r.tally.of("frame_without_time").n > 0 && r.frames == 0:
		return fmt.Errorf("%s:1:1: its %d frames have no time and cannot be placed: record with candump -l, or with -t a", name, r.tally.of("frame_without_time").n)
	case r.frames == 0:
		return fmt.Errorf("%s:1:1: none of its %d lines is a frame: expected candump lines such as (1594172461.968006) can0 0C8#F000", name, r.lines)
	}
	return fmt.Errorf("%s: none of its %d frames could be read", name, r.frames)
}

// known names the databases that were given.
func (r *run) known() string {
	if len(r.databases) == 0 {
		return "no database was given"
	}
	names := make([]string, len(r.databases))
	for i, d := range r.databases {
		names[i] = d.Name
	}
	return strings.Join(names, ", ")
}

// deltas reports whether a log's times are those since the frame before, by its first lines.
func deltas(head []byte) bool {
	frames, falls, last := 0, 0, 0.0
	var x frame.Frame
	for _, line := range bytes.FieldsFunc(head, func(c rune) bool { return c == '\n' || c == '\r' }) {
		if frame.Parse(line, &x) != nil || x.Stamp.Form != frame.Seconds {
			continue
		}
		if frames++; x.Stamp.Seconds < last {
			falls++
		}
		last = x.Stamp.Seconds
	}
	return frames >= 20 && falls*4 > frames
}
