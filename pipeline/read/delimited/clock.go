package delimited

import (
	"bytes"
	"math"
	"time"
)

// form is how a clock's cells are read.
type form uint8

const (
	noClock   form = iota
	elapsed        // A number of some unit.
	epoch          // A number counted from 1970-01-01 UTC.
	serial         // Days since 1899-12-30, as spreadsheets count.
	minSec         // m:ss.f
	hourMin        // h:mm
	timeOfDay      // h:mm:ss.f
	dateTime       // Date and time in one cell.
	dateAside      // A date in one column, a time of day in another.
	counted        // No column: rows at a stated rate.
)

// clock reads one group's time. The first fields say how, the rest follow the rows.
type clock struct {
	form       form
	col, date  int     // Columns; date is -1 save for dateAside.
	mul, div   float64 // elapsed and epoch: seconds = number * mul / div.
	base       int64   // dateTime and dateAside: nanoseconds of t = 0.
	day0       float64 // serial: the day number of t = 0.
	monthFirst bool
	millis     bool  // The digits behind the seconds count milliseconds and are not padded: 10:15:30:7 is 7 ms.
	packed     bool  // timeOfDay: the cells are numbers such as 235959.5.
	offset     int64 // Nanoseconds that a zone stated in the header takes off.
	name, unit string
	start      time.Time
	zoned      bool
	step       float64
	startFrom  *clock // Another clock of the same rows, which dates a restart.

	lastDate []byte // The date cell that lastDays was read from.
	lastDays int64
	follow   follower
}

// numeric reports a clock whose cells are plain numbers.
func (c *clock) numeric() bool {
	return c.packed || c.form == elapsed || c.form == epoch || c.form == serial
}

// of gives the seconds that a number says, for a numeric clock.
func (c *clock) of(v float64) (float64, bool) {
	switch {
	case c.packed:
		return unpack(v)
	case c.form == serial:
		return math.Round((v-c.day0)*86400e6) / 1e6, true
	}
	return v * c.mul / c.div, true
}

// read gives the seconds that a row's cells say, on the recorder's clock before any carrying on.
func (c *clock) read(cell, date []byte, n *numerals, line int) (float64, bool) {
	if c.numeric() {
		v, ok := n.parse(cell, line)
		if !ok {
			return 0, false
		}
		return c.of(v)
	}
	ns, ok := c.nanos(cell, date)
	return float64(ns-c.base) / 1e9, ok
}

// nanos reads the forms that are no plain number.
func (c *clock) nanos(cell, date []byte) (int64, bool) {
	s, ok := parseStamp(cell, c.monthFirst)
	if !ok || !s.hasTime && (c.form != dateTime || !s.hasDate) {
		return 0, false
	}
	if c.millis && s.decimals > 0 {
		s.nanos += s.count*1e6 - s.fraction
	}
	switch c.form {
	case minSec, timeOfDay:
		return s.nanos, !s.hasDate && (s.parts == 3 || c.form == minSec)
	case hourMin:
		if s.parts == 2 {
			s.nanos *= 60
		}
		return s.nanos, !s.hasDate
	case dateTime:
		return s.at() - c.offset, s.hasDate
	}
	if s.hasDate {
		return s.at(), true
	}
	if s.parts == 2 {
		s.nanos *= 60
	}
	if !bytes.Equal(date, c.lastDate) {
		d, ok := parseStamp(date, c.monthFirst)
		if !ok || !d.hasDate {
			return 0, false
		}
		c.lastDate, c.lastDays = append(c.lastDate[:0], date...), d.days
	}
	return c.lastDays*day + s.nanos - c.offset, true
}

// instant gives the moment that a row's cells name, for clocks that name one.
func (c *clock) instant(cell, date []byte, n *numerals) (time.Time, bool) {
	switch c.form {
	case epoch:
		t, ok := c.read(cell, date, n, 0)
		whole := math.Floor(t)
		return time.Unix(int64(whole), int64(math.Round((t-whole)*1e9))).UTC(), ok
	case serial:
		v, ok := n.parse(cell, 0)
		return serialTime(v), ok
	case dateTime, dateAside:
		ns, ok := c.nanos(cell, date)
		return time.Unix(0, ns).UTC(), ok
	}
	return time.Time{}, false
}

func serialTime(days float64) time.Time {
	whole := math.Floor(days)
	t := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(whole))
	return t.Add(time.Duration(math.Round((days-whole)*86400e6)) * time.Microsecond)
}

// event is what a row's time means beside being later than the one before.
type event uint8

const (
	onward   event = iota
	wrapped        // The clock passed midnight or its full hour.
	fellBack       // It fell to near its beginning: the recorder began anew.
)

// follower watches one clock's times. A fall counts as a restart when it is at least half a second and two usual steps and
// ends in the first tenth of the part so far.
type follower struct {
	started     bool
	first, prev float64 // Carried on.
	raw         float64 // As read.
	carry       float64
	step        float64
	tick        float64 // Seconds a count of a whole-number clock, 0 for another.
}

func (f *follower) next(raw float64, form form) (float64, event) {
	if !f.started {
		t := raw + f.carry
		*f = follower{started: true, first: t, prev: t, raw: raw, carry: f.carry, tick: f.tick}
		return t, onward
	}
	ev := onward
	switch fall := f.raw - raw; {
	case fall <= 0:
	case form == timeOfDay && fall > 43200:
		f.carry += 86400 * math.Round(fall/86400)
		ev = wrapped
	case (form == minSec || form == hourMin) && fall > 3000 && fall < 3600 && f.raw >= 3300 && f.raw < 3600:
		f.carry += 3600
		ev = wrapped
	case f.overflow(raw) > 0:
		f.carry += f.overflow(raw)
		ev = wrapped
	case f.isRestart(raw):
		*f = follower{started: true, first: raw, prev: raw, raw: raw, step: f.step, tick: f.tick}
		return raw, fellBack
	}
	t := raw + f.carry
	if d := t - f.prev; d > 0 {
		if f.step == 0 {
			f.step = d
		}
		f.step += (min(d, 10*f.step) - f.step) / 16
	}
	f.raw, f.prev = raw, t
	return t, ev
}

// overflow tells a counter of 16 or 32 bits that runs over: one usual step behind its end it stands at its beginning. It gives
// the seconds of the full count, 0 where the fall is another.
func (f *follower) overflow(raw float64) float64 {
	for _, full := range [...]float64{1 << 16, 1 << 32} {
		if full *= f.tick; f.tick > 0 && f.step > 0 && f.raw < full && f.raw > full/2 && math.Abs(raw+full-f.raw-f.step) <= 2*f.step {
			return full
		}
	}
	return 0
}

func (f *follower) isRestart(raw float64) bool {
	fall := f.prev - raw - f.carry
	return fall >= 0.5 && fall >= 2*f.step && raw+f.carry <= f.first+0.1*(f.prev-f.first) || fall >= 0.5 && fall >= 2*f.step && raw <= f.first
}

// before is the instant t seconds before when.
func before(when time.Time, t float64) time.Time {
	whole := math.Floor(t)
	return when.Add(-time.Duration(whole) * time.Second).Add(-time.Duration(math.Round((t - whole) * 1e9)))
}
