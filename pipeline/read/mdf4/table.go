package mdf4

import (
	"strconv"
	"strings"

	"dynolake/schema"
)

const (
	mostRows  = 4096      // Of a batch.
	chunk     = 256 << 10 // Bytes of records that are read at once.
	mostApart = 32 << 20  // Bytes of unpacked blocks held at once for columns; else they go to the temporary file.
)

func quoted(s string) string { return strconv.Quote(s) }

// escaped is a quoted text within a format.
func escaped(s string) string { return strings.ReplaceAll(quoted(s), "%", "%%") }

// sheet is what becomes one group of the sink: a clock, and the banks of records that share it.
type sheet struct {
	name   string
	clock  *channel
	banks  []*bank // The first has the clock.
	lanes  []lane  // The sink's channels.
	scale  float64 // Seconds a unit of the clock.
	handle int
}

// lane is one channel of a sheet.
type lane struct {
	*channel
	bank *bank
	take gather // Nil for numbers that need more of a look.
	line linear
	list *texts
	last cell // The text before, which is often the same.
}

// rows is how many there are: the clock's, or where it is a formula alone as many as others have.
func (s *sheet) rows() int64 {
	first := s.banks[0]
	if first.stride > 0 {
		return first.rows
	}
	var n int64
	for _, b := range s.banks[1:] {
		n = max(n, b.rows)
	}
	return min(n, first.rows)
}

// perBatch is how many rows are read at once.
func (s *sheet) perBatch() int {
	widest := 1
	for _, b := range s.banks {
		widest = max(widest, b.stride)
		if b.apart != nil {
			widest = max(widest, b.g.validBytes)
		}
	}
	return max(1, min(mostRows, chunk/widest))
}

// read passes a sheet's rows on.
func (e *emitter) read(s *sheet) error {
	if err := s.settle(); err != nil {
		return err
	}
	rows, per := s.rows(), s.perBatch()
	for r := int64(0); r < rows; {
		if err := e.ctx.Err(); err != nil {
			return err
		}
		n := int(min(int64(per), rows-r))
		for _, b := range s.banks {
			var err error
			if n, err = b.load(r, n); err != nil {
				return err
			}
		}
		if !s.banks[0].lost {
			if err := e.emit(s, r, n); err != nil {
				return err
			}
		}
		r += int64(n)
	}
	return nil
}

// settle unpacks columns into the temporary file when their blocks do not fit into memory together.
func (s *sheet) settle() error {
	var most int64
	for _, b := range s.banks {
		most += b.data.largest()
		if b.apart != nil {
			most += b.apart.largest()
		}
	}
	if len(s.banks) == 1 || most <= mostApart {
		return nil
	}
	for _, b := range s.banks {
		if err := b.data.settleAll(); err != nil {
			return err
		}
		if b.apart != nil {
			if err := b.apart.settleAll(); err != nil {
				return err
			}
		}
	}
	return nil
}

// channels gives the sheet's channels without its clock, and reports those whose values cannot be mapped.
func (s *sheet) channels(f *file) []schema.Channel {
	var out []schema.Channel
	for _, b := range s.banks {
		for _, c := range b.g.channels {
			if c == s.clock {
				continue
			}
			if c.why != "" {
				f.say("channel_set_aside", c.name, "%q of group %s is %s: it is set aside", c.name, quoted(s.name), c.why)
				continue
			}
			if c.kind == masterChannel || c.kind == virtualMaster {
				f.say("second_master", c.name, "%q of group %s is a master beside the clock %q: it is read as a channel", c.name, quoted(s.name), s.clock.name)
			}
			turn, _ := c.line()
			s.lanes = append(s.lanes, lane{channel: c, bank: b, take: c.gather(), line: turn})
			out = append(out, c.schema())
		}
	}
	return out
}
