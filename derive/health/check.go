package health

import "dynolake/schema"

// fewest is how many values a channel must have to be judged.
const fewest = 20

// Check judges every channel of a run, in their order. baroKPa is the run's barometric, NaN when not known. Times of findings are
// those of the channels' clocks.
func Check(channels []Channel, baroKPa float64) []schema.Finding {
	signals, periods := make([]signal, 0, len(channels)), map[*float64]float64{}
	for _, c := range channels {
		if c.Column.Kind == schema.State {
			continue
		}
		if s := newSignal(c, periods); len(s.v) >= fewest {
			signals = append(signals, s)
		}
	}
	var out []schema.Finding
	for _, s := range signals {
		full := s.saturated(signals, baroKPa)
		if full == nil {
			full = s.open()
		}
		if full == nil {
			full = s.clipped()
		}
		out = append(out, full...)
		if full == nil {
			out = append(out, s.stuck(signals)...)
		}
		dropped, at := s.dropped()
		out = append(out, dropped...)
		out = append(out, s.spiking(at)...)
		out = append(out, s.missing()...)
		out = append(out, s.coarse()...)
	}
	return out
}
