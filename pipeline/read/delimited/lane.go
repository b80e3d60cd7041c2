package delimited

import "dynolake/schema"

const (
	maxBatch = 4096
	minBatch = 64
	maxHeld  = 1 << 16 // Cells a wide batch holds.
)

// lane gathers the rows of one group until they are a batch.
type lane struct {
	clock   clock
	group   schema.Group
	handle  int
	t       []float64
	values  [][]float64
	texts   []schema.Text
	n, size int
	falls   int // Restarts seen by the follower that the sink knows of.
	rows    int64
}

// newLane declares a group of channels.
func newLane(sink schema.Sink, name string, k clock, channels []schema.Channel) (*lane, error) {
	l := &lane{clock: k, size: min(maxBatch, max(minBatch, maxHeld/max(1, len(channels))))}
	l.group = schema.Group{Name: name, Clock: schema.Clock{Name: k.name, Unit: k.unit, Start: k.start, Zoned: k.zoned, Step: k.step}, Channels: channels}
	l.values = make([][]float64, len(channels))
	return l, l.declare(sink)
}

func (l *lane) declare(sink schema.Sink) (err error) {
	l.handle, err = sink.Group(l.group)
	return err
}

// grow makes room for one more row.
func (l *lane) grow() {
	if l.n < len(l.t) {
		return
	}
	n := min(l.size, max(16, 2*len(l.t)))
	t := make([]float64, n)
	copy(t, l.t)
	l.t = t
	all := make([]float64, n*len(l.values))
	for i, old := range l.values {
		v := all[i*n : (i+1)*n : (i+1)*n]
		copy(v, old)
		l.values[i] = v
	}
}

// flush hands the rows held to the sink.
func (l *lane) flush(sink schema.Sink) error {
	if l.n == 0 {
		return nil
	}
	b := schema.Batch{T: l.t[:l.n], Values: make([][]float64, len(l.values)), Texts: l.texts}
	for i, v := range l.values {
		b.Values[i] = v[:l.n]
	}
	l.rows += int64(l.n)
	l.n = 0
	err := sink.Rows(l.handle, b)
	l.texts = l.texts[:0]
	return err
}

// redate declares the group anew after a restart where its t = 0 is another moment now.
func (l *lane) redate(sink schema.Sink) error {
	switch l.clock.form {
	case elapsed, minSec, hourMin, timeOfDay, counted:
	default:
		return nil
	}
	if l.group.Clock.Start.Equal(l.clock.start) {
		return nil
	}
	l.group.Clock.Start, l.group.Clock.Zoned = l.clock.start, l.clock.zoned
	return l.declare(sink)
}

// held is a row taken out of a lane that has not been kept yet.
type held struct {
	values []float64
	texts  []schema.Text
}

// take takes the row behind the last one out; its texts begin at the given index.
func (l *lane) take(texts int) held {
	h := held{values: make([]float64, len(l.values)), texts: append([]schema.Text(nil), l.texts[texts:]...)}
	for i, v := range l.values {
		h.values[i] = v[l.n]
	}
	l.texts = l.texts[:texts]
	return h
}

// put sets it behind the last row again, wherever that is now.
func (l *lane) put(h held) {
	for i, v := range h.values {
		l.values[i][l.n] = v
	}
	for _, t := range h.texts {
		t.Row = l.n
		l.texts = append(l.texts, t)
	}
}
