package align

import (
	"math"

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
		for i, v := range s.Values[c.Channel] {
			text, isText := texts[i]
			if (held || math.IsNaN(v)) && !isText {
				continue
			}
			if isText {
				u.Texts[len(u.T)] = text
			}
			u.T = append(u.T, s.T[i]+m.places[c.Log].Shift-m.out.T0)
			u.Values = append(u.Values, v)
		}
		m.out.Unmapped = append(m.out.Unmapped, u)
	}
}
