package pipeline

import (
	"dynolake/derive/health"
	"dynolake/schema"
)

// judge looks at every channel that is to become a column, as logged and on its own clock. Times of the findings are those of the run's clock, not yet from its
// first row. It comes before the clocks are merged, which uses the logged values up.
func (m matched) judge() []schema.Finding {
	var channels []health.Channel
	clocks := map[[2]int][]float64{}
	for _, c := range m.claims {
		column, ok := schema.Lookup(c.Column)
		if !ok || c.Lost || !m.places[c.Log].Placed {
			continue
		}
		series := m.logs[c.Log].Series[c.Series]
		key := [2]int{c.Log, c.Series}
		if clocks[key] == nil {
			clocks[key] = m.places[c.Log].Times(series.T)
		}
		scale := c.Scale
		if scale == 0 {
			scale = 1
		}
		channels = append(channels, health.Channel{Column: column, Name: series.Channels[c.Channel].Name, Unit: series.Channels[c.Channel].Unit, Source: m.logs[c.Log].Source,
			T: clocks[key], Logged: series.Values[c.Channel], Scale: scale, Offset: c.Offset, AddBaro: c.AddBaro})
	}
	return health.Check(channels, m.baro.KPa)
}

// fromFirstRow counts the times of findings from the run's first row.
func fromFirstRow(found []schema.Finding, t0 float64) []schema.Finding {
	for i := range found {
		found[i].T0S, found[i].T1S = found[i].T0S-t0, found[i].T1S-t0
	}
	return found
}
