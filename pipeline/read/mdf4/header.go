package mdf4

import (
	"math"
	"time"
)

// begin is the header's time.
type begin struct {
	at    time.Time // Zero when the header gives none.
	zoned bool
}

// header reads the HD block, passes its comment on and returns the link to the first data group.
func (f *file) header() (int64, begin, error) {
	b, err := f.block(64, 6, 32, "HD")
	if err != nil {
		return 0, begin{}, err
	}
	n, err := f.note(b.links[5])
	if isDamage(err) {
		f.doubt("text_lost", "", "%s: the file's comment is lost", err)
	} else if err != nil {
		return 0, begin{}, err
	}
	if n.text != "" {
		f.sink.Note("comment", n.text)
	}
	for _, p := range n.pairs {
		f.sink.Note(p[0], p[1])
	}
	if err := f.extras(b.links[4], b.links[3]); err != nil {
		return 0, begin{}, err
	}
	return b.links[0], beginning(b.data), nil
}

// beginning reads the start: nanoseconds from 1970, in UTC or, when marked so, on the wall clock of a place unknown. Minutes
// of the zone and of summer time, when marked valid, say where an instant was taken.
func beginning(data []byte) begin {
	ns := le.Uint64(data)
	if ns == 0 || ns > math.MaxInt64 {
		return begin{}
	}
	at := time.Unix(0, int64(ns)).UTC()
	const local, offsets = 1, 2
	flags := data[12]
	if flags&local != 0 {
		return begin{at, false}
	}
	if flags&offsets != 0 {
		east := int(int16(le.Uint16(data[8:]))) + int(int16(le.Uint16(data[10:])))
		if east != 0 && east > -24*60 && east < 24*60 {
			at = at.In(time.FixedZone("", east*60))
		}
	}
	return begin{at, true}
}
