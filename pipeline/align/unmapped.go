package align

import (
	"math"
	"slices"

	"dynolake/schema"
)

// leftovers keeps every channel that no column holds, on the run's clock, and of the held ones the texts that no state reads.
func (m *merger) leftovers() {
	for _, c := range m.claims {
		held := m.holds(c)
		s := m.logs[c.Log].Series[c.Series]
		ch := s.Channels[c.Channel]
		u := schema.Unmapped{Source: m.logs[c.Log].Source, ChannelGroup: s.Name, Name: ch.Name, Unit: ch.Unit, Texts: map[int]string{}}
		texts := map[int]string{}
		for _, x := range s.Texts {
			if _, read := c.States[x.Text]; x.Channel == c.Channel && (!held || !read) {
				texts[x.Row] = x.Text
			}
		}
		if held && len(texts) == 0 {
			continue
		}
		u.T, u.Values = m.leftover(c, held, texts, u.Texts)
		m.out.Unmapped = append(m.out.Unmapped, u)
	}
}

// leftover gives the times and values of a channel where it holds something, and puts its texts by their place among them.
func (m *merger) leftover(c schema.Claim, held bool, texts map[int]string, placed map[int]string) (t, values []float64) {
	clock, logged := m.runClock(c.Log, c.Series), m.logs[c.Log].Series[c.Series].Values[c.Channel]
	if !held && !slices.ContainsFunc(logged, math.IsNaN) {
		return clock, logged // Every row holds a number: most channels do, and a year of them is large.
	}
	for i, v := range logged {
		text, isText := texts[i]
		if (held || math.IsNaN(v)) && !isText {
			continue
		}
		if isText {
			placed[len(t)], v = text, math.NaN()
		}
		t, values = append(t, clock[i]), append(values, v)
	}
	return t, values
}

// runClock is a series' times from the run's first row. The slice is shared: do not change it.
func (m *merger) runClock(log, series int) []float64 {
	key := [2]int{log, series}
	if m.rowTimes[key] == nil {
		m.rowTimes[key] = shifted(m.clock(log, series), -m.out.T0)
	}
	return m.rowTimes[key]
}
