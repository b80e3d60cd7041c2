package mdf4

import (
	"math"
	"time"

	"dynolake/schema"
)

// absurd is the span in seconds above which a clock is doubted: 116 days.
const absurd = 1e7

// Seconds from 1970.
const (
	year1989 = 6.3e8
	year2099 = 4.1e9
)

// clock describes a sheet's clock and sets its scale to seconds.
func (e *emitter) clock(s *sheet) (schema.Clock, error) {
	c := s.clock
	out := schema.Clock{Name: c.name, Unit: c.unit, Start: e.start.at, Zoned: e.start.zoned}
	s.scale = 1
	if u, ok := schema.ParseUnit(c.unit); ok && u.Quantity == "time" && u.Name != "s" {
		s.scale = u.Factor
		e.say("clock_unit", c.name, "the clock %q of group %s is in %s, not in seconds: its times are converted", c.name, quoted(s.name), c.unit)
	} else if c.unit != "" && (!ok || u.Quantity != "time") {
		e.doubt("clock_unit", c.name, "the clock %q of group %s has the unit %q, which is no time: it is taken as seconds", c.name, quoted(s.name), c.unit)
	}
	if l, ok := c.conv.(linear); ok && !c.field.float {
		out.Step = math.Abs(l.b) * s.scale
	}
	if len(s.banks[0].buf.bytes) > 0 {
		return out, nil // Records of several groups in turn: there is no looking ahead.
	}
	return out, e.look(s, &out)
}

// look reads the first, the middle and the last row of a sheet to tell a clock that counts from 1970 and one whose unit is wrong.
func (e *emitter) look(s *sheet, out *schema.Clock) error {
	b, rows := s.banks[0], s.rows()
	at := []int64{0, rows / 2, rows - 1}
	t := make([]float64, len(at))
	unix := map[*channel][]int64{}
	for i, row := range at {
		if _, err := b.load(row, 1); err != nil {
			return err
		}
		if b.lost {
			return nil
		}
		v := t[i : i+1]
		b.numbers(s.clock, v, row)
		convertAll(s.clock.conv, v, nil)
		for _, c := range b.g.channels {
			if c.why == "" && c.conv == nil && c.kind == fixedLength && !c.text() && !c.float() && c.bits == 64 {
				unix[c] = append(unix[c], int64(c.field.raw(b.buf.whole(1))))
			}
		}
	}
	b.buf.bytes = b.buf.bytes[:0]
	span := (t[2] - t[0]) * s.scale
	if first := t[0] * s.scale; out.Start.IsZero() && first > year1989 && first < year2099 {
		out.Start, out.Zoned = time.Unix(0, 0).UTC(), true
	}
	if c, k := proof(b.g.channels, unix, t, s.scale); c != nil {
		s.scale *= k
		e.find(schema.Doubt, "clock_unit_wrong", s.clock.name, span, "s", "the clock "+quoted(s.clock.name)+" of group "+quoted(s.name)+" would last so long as written in "+quoted(s.clock.unit)+
			", and "+quoted(c.name)+", which counts from 1970, says "+decimal(k)+" of it: its times are multiplied by that")
		return nil
	}
	if span > absurd {
		e.find(schema.Doubt, "clock_implausible", s.clock.name, span, "s", "the clock "+quoted(s.clock.name)+" of group "+quoted(s.name)+" spans so many seconds as written; no other channel tells what it counts")
	}
	return nil
}

// proof finds a channel of Unix times by which the clock is wrong by a plain factor.
func proof(channels []*channel, unix map[*channel][]int64, t []float64, scale float64) (*channel, float64) {
	for _, c := range channels {
		v := unix[c]
		if len(v) != 3 || v[0] >= v[1] || v[1] >= v[2] {
			continue
		}
		for _, tick := range []float64{1e-9, 1e-6, 1e-3} {
			if float64(v[0])*tick < year1989 || float64(v[2])*tick > year2099 {
				continue
			}
			if k := fits(t, v, tick, scale); k != 1 {
				return c, k
			}
		}
	}
	return nil, 1
}

// fits is the factor by which a clock must be multiplied to step as another one that counts ticks, 1 when it is no plain
// decimal one below 1.
func fits(t []float64, ticks []int64, tick, scale float64) float64 {
	for _, k := range []float64{1e-3, 1e-6, 1e-9} {
		good := true
		for i := 1; i < len(t); i++ {
			real, said := float64(ticks[i]-ticks[0])*tick, (t[i]-t[0])*scale
			good = good && said > 0 && math.Abs(said*k-real) <= 1e-3*real
		}
		if good {
			return k
		}
	}
	return 1
}

func decimal(k float64) string {
	switch k {
	case 1e-3:
		return "1/1000"
	case 1e-6:
		return "1/1000000"
	}
	return "1/1000000000"
}
