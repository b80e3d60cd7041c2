package pipeline

import "dynolake/schema"

// evidenceRows bounds how many rows of a series are looked at to settle what its channels are.
const evidenceRows = 1 << 17

// thin gives logs of the same channels with every nth row of long series, which tell as much of units, zeros and clocks as all
// of them. Short series are shared.
func thin(logs []schema.Log) []schema.Log {
	out := make([]schema.Log, len(logs))
	for i, l := range logs {
		out[i] = l
		out[i].Series = make([]schema.Series, len(l.Series))
		for k, s := range l.Series {
			out[i].Series[k] = thinned(s)
		}
	}
	return out
}

func thinned(s schema.Series) schema.Series {
	every := (len(s.T) + evidenceRows - 1) / evidenceRows
	if every < 2 {
		return s
	}
	t := schema.Series{Group: s.Group, T: nth(s.T, every)}
	for _, v := range s.Values {
		t.Values = append(t.Values, nth(v, every))
	}
	for _, x := range s.Texts {
		if x.Row%every == 0 {
			x.Row /= every
			t.Texts = append(t.Texts, x)
		}
	}
	return t
}

func nth(v []float64, every int) []float64 {
	out := make([]float64, 0, len(v)/every+1)
	for i := 0; i < len(v); i += every {
		out = append(out, v[i])
	}
	return out
}
