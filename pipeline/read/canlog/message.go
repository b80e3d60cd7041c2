package canlog

import (
	"fmt"
	"math"
	"strings"

	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/pipeline/read/canlog/j1939"
	"dynolake/schema"
)

// item is one signal of a message, of a database or of the built-in table.
type item struct {
	db       *dbc.Signal
	built    *j1939.Signal
	spn      int
	reserved bool // J1939's reserved values are missing.
}

// channel says how the item is declared.
func (it item) channel() schema.Channel {
	if it.db != nil {
		c := schema.Channel{Name: it.db.Name, Unit: it.db.Unit, Comment: it.db.Comment}
		if it.spn != 0 {
			c.Comment = strings.TrimSpace(fmt.Sprintf("SPN %d %s", it.spn, c.Comment))
		}
		return c
	}
	return schema.Channel{Name: it.built.Name, Unit: it.built.Written(), Comment: fmt.Sprintf("SPN %d", it.spn)}
}

// read gives the item's value or text; both are missing where the message does not hold it.
func (it item) read(data []byte) (float64, string) {
	if it.built != nil {
		return it.built.Value(data), ""
	}
	raw, ok := it.db.Raw(data)
	if !ok {
		return math.NaN(), ""
	}
	text := it.db.Text(raw)
	if it.reserved && !j1939.Available(raw, it.db.Bits) && (text == "" || raw == 1<<it.db.Bits-1 || void(text)) {
		return math.NaN(), ""
	}
	if text != "" {
		return math.NaN(), text
	}
	return it.db.Of(raw), ""
}

// void tells a text that stands for no value.
func void(text string) bool {
	text = strings.ToLower(text)
	for _, w := range []string{"error", "reserved", "notavailable", "not available", "not_available"} {
		if strings.Contains(text, w) {
			return true
		}
	}
	return false
}

// lane is the signals of a message that come together: all that depend on no selector, or on one reading of it.
type lane struct {
	when  *dbc.Signal // Any of them, nil where they are always there.
	name  string
	items []item
	group *group
	full  bool // There is no room for its group.
}

// message is how the frames of one bus, message and source are read.
type message struct {
	name   string
	bus    string
	source int // J1939 source address, -1 where there is none.
	db     *dbc.Message
	lanes  []*lane
}

// plan says how a message is read; nil when nothing knows it. id is its 29- or 11-bit id.
func (r *run) plan(bus string, id uint32, extended bool) *message {
	db, from := r.find(id, extended)
	x := j1939.Split(id)
	built, known := j1939.Lookup(x.PGN)
	known = known && extended && (db == nil || db.J1939)
	if db == nil && !known {
		return nil
	}
	m := &message{bus: bus, db: db, source: -1}
	label := built.Name
	if db != nil {
		label = db.Name
	}
	m.name = fmt.Sprintf("%s %s %X", bus, label, id)
	if known || db != nil && db.J1939 {
		m.source = int(x.Source)
		m.name = fmt.Sprintf("%s %s %04X from %02X", bus, label, x.PGN, x.Source)
	}
	if db != nil {
		m.database()
	}
	if known {
		r.builtIn(m, built, from)
	}
	if len(m.lanes) == 0 {
		return nil
	}
	return m
}

// find gives the first database's message of an id. A second database that knows it too is told.
func (r *run) find(id uint32, extended bool) (*dbc.Message, string) {
	var found *dbc.Message
	from := ""
	for i := range r.databases {
		m, ok := r.databases[i].Find(id, extended)
		switch {
		case !ok || len(m.Signals) == 0:
		case found == nil:
			found, from = m, r.databases[i].Name
		default:
			r.tally.tell("two "+m.Name+r.databases[i].Name, r.tally.finding(schema.Note, "dbc_twice", m.Name, math.NaN(), "",
				"%s and %s both describe id %X: %s is followed", from, r.databases[i].Name, id, from))
		}
	}
	return found, from
}

// database makes the lanes of a database's message.
func (m *message) database() {
	at := map[string]*lane{}
	for i := range m.db.Signals {
		s := &m.db.Signals[i]
		if s.Bits < 1 || s.Bits > 64 {
			continue
		}
		key := m.db.When(s)
		l := at[key]
		if l == nil {
			l = &lane{name: m.name}
			if s.When != nil {
				l.when, l.name = s, m.name+" "+key
			}
			at[key] = l
			m.lanes = append(m.lanes, l)
		}
		l.items = append(l.items, item{db: s, spn: s.SPN, reserved: m.db.J1939 && !s.Signed && !s.Float})
	}
}

// builtIn adds the parameters of the built-in table that the database leaves.
func (r *run) builtIn(m *message, built j1939.Message, from string) {
	taken, spns := map[int]string{}, map[int]bool{}
	if m.db != nil {
		for i := range m.db.Signals {
			s := &m.db.Signals[i]
			spns[s.SPN] = true
			for _, bit := range s.Covers() {
				taken[bit] = s.Name
			}
		}
	}
	var main *lane
	for _, l := range m.lanes {
		if l.when == nil {
			main = l
		}
	}
	for i := range built.Signals {
		s := &built.Signals[i]
		by := spns[s.SPN]
		for bit := range s.Bits {
			by = by || taken[s.First()+bit] != ""
		}
		if by {
			r.compare(m, s, from)
			continue
		}
		if main == nil {
			main = &lane{name: m.name}
			m.lanes = append(m.lanes, main)
		}
		main.items = append(main.items, item{built: s, spn: s.SPN, reserved: true})
	}
}

// compare tells a database that reads a parameter in another way than the built-in table.
func (r *run) compare(m *message, s *j1939.Signal, from string) {
	same := func(d *dbc.Signal) bool {
		return d.Start == s.First() && d.Bits == s.Bits && (d.Order == dbc.LittleEndian || d.Bits <= 8) && !d.Signed && !d.Float &&
			math.Abs(d.Factor-float64(s.Scale)) <= 1e-9+1e-4*math.Abs(d.Factor) && math.Abs(d.Offset-s.Offset) <= 1e-9
	}
	for i := range m.db.Signals {
		if same(&m.db.Signals[i]) {
			return
		}
	}
	r.tally.tell(fmt.Sprintf("differs %s %d", m.db.Name, s.SPN), r.tally.finding(schema.Doubt, "dbc_differs", s.Name, math.NaN(), "",
		"%s reads the place of SPN %d (%s) in %s in another way than SAE J1939 has it (byte %d, %d bits, factor %g, offset %g): the database is followed", from, s.SPN, s.Name, m.db.Name, s.Byte, s.Bits, float64(s.Scale), s.Offset))
}

// decode reads one message's bytes at time t.
func (r *run) decode(m *message, t float64, data []byte) error {
	for _, l := range m.lanes {
		if l.when != nil && !m.db.There(l.when, data) {
			continue
		}
		if l.group == nil && !l.full {
			if err := r.openLane(l); err != nil {
				return err
			}
		}
		if l.full {
			r.tally.add("too_many_groups", "")
			continue
		}
		l.group.row(t)
		for i, it := range l.items {
			v, text := it.read(data)
			l.group.put(i, v, text)
			if m.source >= 0 && (it.spn == spnActual || it.spn == spnReference) {
				if err := r.torque.see(torqueKey{m.bus, m.source, false}, it.spn, t, v); err != nil {
					return err
				}
			}
		}
		if err := r.book.done(l.group); err != nil {
			return err
		}
	}
	return nil
}

func (r *run) openLane(l *lane) error {
	channels := make([]schema.Channel, len(l.items))
	for i, it := range l.items {
		channels[i] = it.channel()
	}
	var err error
	l.group, err = r.book.open(l.name, channels)
	l.full = l.group == nil
	return err
}
