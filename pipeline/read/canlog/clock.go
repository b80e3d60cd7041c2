package canlog

import (
	"math"
	"time"

	"dynolake/pipeline/read/canlog/frame"
	"dynolake/schema"
)

const (
	setBack = 1.0  // A fall of fewer seconds is disorder among frames.
	gap     = 10.0 // A pause of more seconds is told.
)

// clock turns stamps into seconds on the log's own clock.
type clock struct {
	form   frame.Form
	whole  int64   // Of a date: the first stamp's whole seconds.
	part   float64 // And its fraction.
	deltas bool    // Stamps are times since the frame before.
	sum    float64
	add    float64 // Added after the clock was set back.

	started      bool
	first, top   float64 // As logged, of the part at hand.
	prev         float64
	backs        int // Small steps back.
	worst        float64
	bridges      int
	bridged      float64
	gaps         int
	longest, gAt float64
}

// schema gives the clock as groups declare it.
func (c *clock) schema() schema.Clock {
	k := schema.Clock{Name: "time", Unit: "s"}
	switch c.form {
	case frame.Epoch:
		k.Unit, k.Start, k.Zoned = "s from 1970", time.Unix(0, 0).UTC(), true
	case frame.Date:
		k.Unit, k.Start = "date and time", time.Unix(c.whole, int64(math.Round(c.part*1e9))).UTC()
	}
	return k
}

// at gives a stamp's time and whether the recorder began anew with it. ok is false for a stamp of another form.
func (c *clock) at(s frame.Stamp) (t float64, restart, ok bool) {
	if c.form == frame.None {
		c.form, c.whole, c.part = s.Form, s.Whole, s.Part
	}
	if s.Form != c.form || s.Form == frame.None {
		return 0, false, false
	}
	raw := s.Seconds
	if s.Form == frame.Date {
		raw = float64(s.Whole-c.whole) + (s.Part - c.part)
	}
	if c.deltas {
		c.sum += raw
		raw = c.sum
	}
	if !c.started {
		c.started, c.first, c.top, c.prev, c.add = true, raw, raw, raw, 0
		return raw, false, true
	}
	step := c.prev - raw
	c.prev = raw
	switch fall := c.top - raw; {
	case fall >= setBack && raw-c.first <= math.Max(1, 0.05*(c.top-c.first)) && c.top-c.first > 2*setBack:
		c.first, c.top, c.add = raw, raw, 0
		return raw, true, true
	case fall >= setBack:
		c.bridges++
		c.bridged = math.Max(c.bridged, fall)
		c.add += fall
		c.top = raw
	case step > 0:
		c.backs++
		c.worst = math.Max(c.worst, step)
	case -fall > gap:
		c.gaps++
		if -fall > c.longest {
			c.longest, c.gAt = -fall, c.top+c.add
		}
	}
	c.top = math.Max(c.top, raw)
	return raw + c.add, false, true
}
