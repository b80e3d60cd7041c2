package canlog

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// mostSeconds bounds the seconds of traffic that are held: a fortnight.
const mostSeconds = 14 * 24 * 3600

// traffic counts a bus's frames, second by second. It is kept only of a log in which nothing is known, so that the log becomes a
// run all the same and is read anew as soon as a database is added.
type traffic struct {
	t, n []float64
}

func (c *traffic) add(t float64) {
	second := math.Floor(t)
	if k := len(c.t); k > 0 && c.t[k-1] >= second {
		c.n[k-1]++
		return
	}
	if len(c.t) < mostSeconds {
		c.t, c.n = append(c.t, second), append(c.n, 1)
	}
}

// bare gives the frames a second of every bus where no group was declared.
func (r *run) bare() error {
	if len(r.book.groups) > 0 {
		return nil
	}
	n := 0.0
	for _, name := range r.busNames() {
		c := &r.buses[name].traffic
		if len(c.t) == 0 {
			continue
		}
		g, err := r.book.open(name+" traffic", []schema.Channel{{Name: "Frames", Unit: "1/s", Comment: "frames of the bus in each second"}})
		if err != nil || g == nil {
			return err
		}
		for i, t := range c.t {
			g.row(t)
			g.put(0, c.n[i], "")
			n += c.n[i]
			if err := r.book.done(g); err != nil {
				return err
			}
		}
	}
	if n > 0 {
		r.tally.tell("bare", r.tally.finding(schema.Doubt, "can_nothing_known", "", n, "frames",
			"none of its %s frames is known (%s; no OBD answer, no J1939 message of the built-in table): only the frames a second are kept beside the archive; add a DBC file to config/can or beside the log", fmt.Sprintf("%.0f", n), r.known()))
	}
	return nil
}
