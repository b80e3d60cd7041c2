package canlog

import (
	"math"

	"dynolake/schema"
)

const (
	batchRows  = 1024
	batchCells = 512 << 10 // Held by all groups together, 4 MiB.
	mostGroups = 4096
)

// book holds the groups and hands their rows to the sink in batches.
type book struct {
	sink   schema.Sink
	clock  *clock
	groups []*group
	cells  int
}

// group is one group's rows that the sink does not have yet.
type group struct {
	handle int
	t      []float64
	values [][]float64
	texts  []schema.Text
}

// open declares a group, nil when there are too many.
func (b *book) open(name string, channels []schema.Channel) (*group, error) {
	if len(b.groups) >= mostGroups {
		return nil, nil
	}
	h, err := b.sink.Group(schema.Group{Name: name, Clock: b.clock.schema(), Channels: channels})
	if err != nil {
		return nil, err
	}
	g := &group{handle: h, values: make([][]float64, len(channels))}
	b.groups = append(b.groups, g)
	return g, nil
}

// row begins a row; put fills it.
func (g *group) row(t float64) { g.t = append(g.t, t) }

// put sets a channel's value in the row that was begun, or its text where there is one. Channels come in order.
func (g *group) put(channel int, v float64, text string) {
	if text != "" {
		v = math.NaN()
		g.texts = append(g.texts, schema.Text{Row: len(g.t) - 1, Channel: channel, Text: text})
	}
	g.values[channel] = append(g.values[channel], v)
}

// done ends a row and hands the batch on when it is full.
func (b *book) done(g *group) error {
	b.cells += 1 + len(g.values)
	if b.cells >= batchCells {
		return b.flush()
	}
	if len(g.t) >= batchRows {
		return b.send(g)
	}
	return nil
}

func (b *book) send(g *group) error {
	if len(g.t) == 0 {
		return nil
	}
	err := b.sink.Rows(g.handle, schema.Batch{T: g.t, Values: g.values, Texts: g.texts})
	b.cells -= len(g.t) * (1 + len(g.values))
	g.t, g.texts = g.t[:0], g.texts[:0]
	for i := range g.values {
		g.values[i] = g.values[i][:0]
	}
	return err
}

// flush hands on what all groups hold.
func (b *book) flush() error {
	for _, g := range b.groups {
		if err := b.send(g); err != nil {
			return err
		}
	}
	return nil
}
