package canlog

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// SPNs of which torque in N·m is made; the OBD PIDs 62 and 63 say the same.
const (
	spnActual    = 513
	spnReference = 544
)

// mostPending bounds the percentages of one control unit that wait for its reference torque: ten minutes at 100 Hz. J1939 sends
// the reference every few seconds.
const mostPending = 60_000

// mostUnits bounds the control units whose torque is followed.
const mostUnits = 64

type torqueKey struct {
	bus    string
	source int
	obd    bool
}

// torques makes torque in N·m of percentages, control unit by control unit.
type torques struct {
	book  *book
	tally *tally
	units map[torqueKey]*torque
	order []torqueKey
}

type torque struct {
	reference float64
	changes   int
	t, pct    []float64 // Waiting for the reference.
	lost      int
	group     *group
}

// see takes an actual or a reference torque in.
func (q *torques) see(key torqueKey, spn int, t, v float64) error {
	if math.IsNaN(v) {
		return nil
	}
	u := q.units[key]
	if u == nil {
		if len(q.units) >= mostUnits {
			return nil
		}
		if q.units == nil {
			q.units = map[torqueKey]*torque{}
		}
		u = &torque{reference: math.NaN()}
		q.units[key], q.order = u, append(q.order, key)
	}
	switch {
	case spn == spnReference && v > 0:
		if v != u.reference && !math.IsNaN(u.reference) {
			u.changes++
		}
		u.reference = v
		return q.release(key, u)
	case spn == spnActual && math.IsNaN(u.reference):
		if len(u.t) >= mostPending {
			u.lost++
			return nil
		}
		u.t, u.pct = append(u.t, t), append(u.pct, v)
	case spn == spnActual:
		return q.give(key, u, t, v)
	}
	return nil
}

func (q *torques) release(key torqueKey, u *torque) error {
	for i := range u.t {
		if err := q.give(key, u, u.t[i], u.pct[i]); err != nil {
			return err
		}
	}
	u.t, u.pct = nil, nil
	return nil
}

func (q *torques) give(key torqueKey, u *torque, t, pct float64) error {
	if u.group == nil {
		name := fmt.Sprintf("%s engine torque from %02X", key.bus, key.source)
		if key.obd {
			name = fmt.Sprintf("%s OBD engine torque from %X", key.bus, key.source)
		}
		g, err := q.book.open(name, []schema.Channel{{Name: "Engine torque", Unit: "N·m", Comment: "actual percent torque × reference torque"}})
		if err != nil || g == nil {
			return err
		}
		u.group = g
	}
	u.group.row(t)
	u.group.put(0, pct*u.reference/100, "")
	return q.book.done(u.group)
}

// restart forgets what waits: it is of the part before.
func (q *torques) restart() {
	for _, u := range q.units {
		u.t, u.pct = nil, nil
	}
}

// close tells what was made.
func (q *torques) close() {
	for _, key := range q.order {
		u := q.units[key]
		if u.group == nil {
			continue
		}
		text := fmt.Sprintf("engine torque is the actual percent torque times the reference torque of %g N·m that control unit %02X on %s sends; it is gross, friction is not taken off", u.reference, key.source, key.bus)
		if u.changes > 0 {
			text += fmt.Sprintf("; the reference changed %d times, the last one is named", u.changes)
		}
		if u.lost > 0 {
			text += fmt.Sprintf("; %d percentages before the first reference were left out", u.lost)
		}
		q.tally.other = append(q.tally.other, q.tally.finding(schema.Note, "engine_torque_derived", "Engine torque", u.reference, "N·m", "%s", text))
	}
}
