package canlog

import (
	"fmt"
	"math"

	"dynolake/pipeline/read/canlog/isotp"
	"dynolake/pipeline/read/canlog/obd"
	"dynolake/schema"
)

// unit is one control unit's diagnostic answers.
type unit struct {
	bus    string
	id     uint32
	isotp  isotp.Assembler
	groups map[pidKey]*pidGroup
}

// pidKey parts a unit's parameters: by mode, freeze frame, and what the support byte says.
type pidKey struct {
	mode, pid, frame, support byte
}

type pidGroup struct {
	group  *group
	values []obd.Value
}

// answer takes one frame of a control unit's answers.
func (r *run) answer(u *unit, t float64, data []byte) error {
	m, kind := u.isotp.Add(t, data)
	switch kind {
	case isotp.Whole:
		return r.reply(u, m)
	case isotp.Flow:
		r.tally.by("can_requests", fmt.Sprintf("%s %X flow control", u.bus, u.id), 1)
	case isotp.Malformed, isotp.Lost:
		r.tally.by("message_malformed", fmt.Sprintf("%s %X", u.bus, u.id), 1)
	}
	return nil
}

func (r *run) reply(u *unit, m isotp.Message) error {
	a := obd.Parse(m.Data)
	switch {
	case a.Mode == 0 && m.Data[0] == 0x7F:
		r.tally.by("obd_refused", fmt.Sprintf("% X from %X", m.Data[:min(3, len(m.Data))], u.id), 1)
		return nil
	case a.Mode == 0:
		r.tally.by("obd_other_service", fmt.Sprintf("%02X from %X", m.Data[0]&^0x40, u.id), 1)
		return nil
	}
	if len(a.Rest) > 0 {
		r.tally.by("obd_unknown_pid", fmt.Sprintf("%02X from %X", a.Rest[0], u.id), 1)
	}
	for _, it := range a.Items {
		if len(it.PID.Values) == 0 || len(it.Data) == 0 {
			continue
		}
		if err := r.pid(u, a.Mode, it, m.T); err != nil {
			return err
		}
	}
	return nil
}

// pid gives one parameter's row to its group.
func (r *run) pid(u *unit, mode byte, it obd.Item, t float64) error {
	key := pidKey{mode, it.PID.Number, it.Frame, 0}
	if it.PID.Values[0].If != nil {
		key.support = it.Data[0]
	}
	g := u.groups[key]
	if g == nil {
		if len(u.groups) >= mostGroups {
			r.tally.add("too_many_groups", "")
			return nil
		}
		var err error
		if g, err = r.openPID(u, key, it); err != nil {
			return err
		}
		u.groups[key] = g
	}
	if g.group == nil {
		if len(g.values) > 0 {
			r.tally.add("too_many_groups", "")
		}
		return nil
	}
	g.group.row(t)
	for i, v := range g.values {
		x := v.Of(it.Data)
		g.group.put(i, x, "")
		if spn := torquePID(it.PID.Number); spn != 0 && mode == 1 {
			if err := r.torque.see(torqueKey{u.bus, int(u.id), true}, spn, t, x); err != nil {
				return err
			}
		}
	}
	return r.book.done(g.group)
}

func torquePID(pid byte) int {
	switch pid {
	case 0x62:
		return spnActual
	case 0x63:
		return spnReference
	}
	return 0
}

// openPID declares a parameter's group with the values that the vehicle has.
func (r *run) openPID(u *unit, key pidKey, it obd.Item) (*pidGroup, error) {
	g := &pidGroup{}
	var channels []schema.Channel
	name, before := fmt.Sprintf("%s OBD %02X from %X", u.bus, key.pid, u.id), ""
	if key.mode == 2 {
		name, before = fmt.Sprintf("%s OBD freeze frame %d %02X from %X", u.bus, key.frame, key.pid, u.id), "Freeze frame: "
	}
	for _, v := range it.PID.Values {
		if v.If == nil && !math.IsNaN(v.Of(it.Data)) || v.If != nil && key.support>>*v.If&1 == 1 {
			g.values = append(g.values, v)
			channels = append(channels, schema.Channel{Name: before + v.Name, Unit: v.Written(), Comment: fmt.Sprintf("PID %02X", key.pid)})
		}
	}
	if len(channels) == 0 {
		return g, nil
	}
	if it.PID.Choice != "" {
		r.tally.tell("choice "+it.PID.Hex, r.tally.finding(schema.Note, "obd_choice", it.PID.Values[0].Name, math.NaN(), "", "PID %s: %s", it.PID.Hex, it.PID.Choice))
	}
	var err error
	g.group, err = r.book.open(name, channels)
	return g, err
}
