package mdf4

import "fmt"

// dataGroup is a DG block: groups whose records stand in one stream.
type dataGroup struct {
	at     int64
	idSize int // Bytes of the record id; 0 where the only group has none.
	data   int64
	groups []*group
	stream *stream
	apart  *stream           // Validity bytes in blocks of their own.
	spilt  map[int64]*stream // Texts that stood between the records, by their group.
}

// group is a CG block: one layout of records.
type group struct {
	at         int64
	in         *dataGroup
	id         uint64
	cycles     int64
	flags      uint16
	dataBytes  int // Of a record, without its id and validity bytes.
	validBytes int
	name       string
	remote     int64 // The group that has the clock; 0 for this one.
	channels   []*channel
	clock      *channel
	why        string // Why the group has no clock.
}

func (g *group) vlsd() bool  { return g.flags&1 != 0 }
func (g *group) record() int { return g.dataBytes + g.validBytes }

// dataGroups reads the whole index. Where it breaks off, what was read before stands.
func (f *file) dataGroups(at int64) ([]*dataGroup, error) {
	if at == 0 {
		return nil, harm("HD", 64, "it links to no data group: the file holds no data")
	}
	var out []*dataGroup
	for at != 0 {
		if err := f.ctx.Err(); err != nil {
			return nil, err
		}
		d, next, err := f.dataGroup(at)
		if isDamage(err) {
			f.lose(err)
			f.reject("index_damaged", "%s: the data groups from the %s on cannot be found", err, ordinal(len(out)+1))
			break
		}
		if err != nil {
			return nil, err
		}
		out = append(out, d)
		at = next
	}
	if len(out) == 0 {
		return nil, f.lost
	}
	return out, nil
}

func ordinal(n int) string {
	switch n {
	case 1:
		return "first"
	case 2:
		return "second"
	case 3:
		return "third"
	}
	return fmt.Sprintf("%dth", n)
}

func (f *file) dataGroup(at int64) (*dataGroup, int64, error) {
	if err := f.once("DG", at); err != nil {
		return nil, 0, err
	}
	b, err := f.block(at, 4, 1, "DG")
	if err != nil {
		return nil, 0, err
	}
	d := &dataGroup{at: at, idSize: int(b.data[0]), data: b.links[2]}
	switch d.idSize {
	case 0, 1, 2, 4, 8:
	default:
		f.setAside(harm("DG", at, "record ids of %d bytes: expected 0, 1, 2, 4 or 8", d.idSize))
		return d, b.links[0], nil
	}
	for next := b.links[1]; next != 0; {
		g, after, err := f.group(next)
		if isDamage(err) {
			f.setAside(err)
			return d, b.links[0], nil
		}
		if err != nil {
			return nil, 0, err
		}
		g.in = d
		d.groups = append(d.groups, g)
		next = after
	}
	return d, b.links[0], nil
}

// setAside reports groups that are lost.
func (f *file) setAside(err error) {
	f.lose(err)
	f.reject("group_lost", "%s: the channel groups that hang on it are set aside", err)
}

// lose keeps the first damage, for when nothing is left.
func (f *file) lose(err error) {
	if f.lost == nil {
		f.lost = err
	}
}

func (f *file) group(at int64) (*group, int64, error) {
	if err := f.once("CG", at); err != nil {
		return nil, 0, err
	}
	b, err := f.block(at, 6, 32, "CG")
	if err != nil {
		return nil, 0, err
	}
	g := &group{at: at, id: le.Uint64(b.data), flags: le.Uint16(b.data[16:]), dataBytes: int(le.Uint32(b.data[24:])), validBytes: int(le.Uint32(b.data[28:]))}
	cycles := le.Uint64(b.data[8:])
	if cycles > 1<<62 {
		return nil, 0, harm("CG", at, "%d cycles cannot be", cycles)
	}
	g.cycles = int64(cycles)
	const remoteMaster = 8
	if g.flags&remoteMaster != 0 {
		if len(b.links) < 7 || b.links[6] == 0 {
			return nil, 0, harm("CG", at, "it is marked to have its clock in another group and links to none")
		}
		g.remote = b.links[6]
	}
	if g.vlsd() {
		g.dataBytes, g.validBytes = 0, 0
		return g, b.links[0], nil
	}
	if g.name, err = f.label(b.links[2], "name", "channel group"); err != nil {
		return nil, 0, err
	}
	if g.name == "" && b.links[3] != 0 {
		if g.name, err = f.source(b.links[3]); err != nil {
			return nil, 0, err
		}
	}
	if g.channels, err = f.channels(b.links[1], g, "", 0); err != nil {
		return nil, 0, err
	}
	g.master()
	return g, b.links[0], nil
}

// source is the name in an SI block, for groups without their own.
func (f *file) source(at int64) (string, error) {
	b, err := f.block(at, 3, 0, "SI")
	if isDamage(err) {
		f.doubt("text_lost", "", "%s: the name of a group's source is lost", err)
		return "", nil
	}
	if err != nil {
		return "", err
	}
	return f.label(b.links[0], "name", "source")
}

// master finds the channel that is the group's clock.
func (g *group) master() {
	kinds := map[uint8]string{2: "an angle", 3: "a distance", 4: "an index"}
	g.why = "it has no master channel"
	for _, c := range g.channels {
		if c.kind != masterChannel && c.kind != virtualMaster {
			continue
		}
		switch {
		case c.sync == 1 && c.why == "" && g.clock == nil:
			g.clock = c
		case c.sync == 1 && c.why != "":
			g.why = fmt.Sprintf("its time master %q is %s", c.name, c.why)
		case kinds[c.sync] != "" && g.clock == nil:
			g.why = fmt.Sprintf("its master %q is %s, no time", c.name, kinds[c.sync])
		case g.clock == nil:
			g.why = fmt.Sprintf("its master %q does not say what it counts", c.name)
		}
	}
}
