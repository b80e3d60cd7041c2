package read

import (
	"context"
	"fmt"
	"slices"

	"dynolake/schema"
)

// Collect reads a source whole: one log a part, in the order of the file. Groups without rows in a part are left out of it;
// notes belong to every part, a finding to the part in which it was made. Where reading fails the error is returned alone.
func Collect(ctx context.Context, r schema.Reader, src schema.Source) ([]schema.Log, error) {
	if _, ok := r.(schema.Random); ok {
		any, err := seekable(ctx, src)
		if err != nil {
			return nil, err
		}
		src = any
	}
	c := &collector{source: src.Name, form: r.Form()}
	if err := r.Read(ctx, src, c); err != nil {
		return nil, err
	}
	c.close()
	return c.logs, nil
}

// collector is the sink that keeps everything.
type collector struct {
	source, form string
	groups       []schema.Group
	series       []schema.Series // Of the part at hand, one a group.
	notes        [][2]string
	findings     []schema.Finding
	part         int
	logs         []schema.Log
}

var _ schema.Sink = (*collector)(nil)

// Group declares a group.
func (c *collector) Group(g schema.Group) (int, error) {
	g.Channels = slices.Clone(g.Channels)
	c.groups = append(c.groups, g)
	c.series = append(c.series, empty(g))
	return len(c.groups) - 1, nil
}

func empty(g schema.Group) schema.Series {
	return schema.Series{Group: g, Values: make([][]float64, len(g.Channels))}
}

// Rows copies a batch behind what its group holds.
func (c *collector) Rows(group int, b schema.Batch) error {
	if group < 0 || group >= len(c.series) {
		return fmt.Errorf("%s: rows for group %d of %d: the group was never declared", c.source, group, len(c.series))
	}
	s := &c.series[group]
	if len(b.Values) != len(s.Channels) {
		return fmt.Errorf("%s: rows of %d channels for a group of %d", c.source, len(b.Values), len(s.Channels))
	}
	for i, v := range b.Values {
		if len(v) != len(b.T) {
			return fmt.Errorf("%s: channel %q has %d values for %d times", c.source, s.Channels[i].Name, len(v), len(b.T))
		}
		s.Values[i] = append(s.Values[i], v...)
	}
	for _, t := range b.Texts {
		t.Row += len(s.T)
		s.Texts = append(s.Texts, t)
	}
	s.T = append(s.T, b.T...)
	return nil
}

// Restart closes the part at hand.
func (c *collector) Restart() error {
	c.close()
	c.part++
	c.findings = nil
	for i, g := range c.groups {
		c.series[i] = empty(g)
	}
	return nil
}

// close keeps the part at hand when it holds rows. Findings of an empty part go to the part before.
func (c *collector) close() {
	l := schema.Log{Source: c.source, Form: c.form, Part: c.part, Notes: slices.Clone(c.notes), Findings: c.findings}
	for _, s := range c.series {
		if len(s.T) > 0 {
			l.Series = append(l.Series, s)
		}
	}
	if len(l.Series) > 0 {
		c.logs = append(c.logs, l)
	} else if n := len(c.logs); n > 0 {
		c.logs[n-1].Findings = append(c.logs[n-1].Findings, c.findings...)
	}
}

// Note keeps a note.
func (c *collector) Note(key, text string) { c.notes = append(c.notes, [2]string{key, text}) }

// Find keeps a finding.
func (c *collector) Find(f schema.Finding) { c.findings = append(c.findings, f) }
