package align

import (
	"math"
	"slices"
)

// What makes a single value of a shared signal a spike, which no other recorder saw. Common practice, no source.
const (
	spikeShare = 0.15 // It stands off its neighbours' middle by this share of the signal's range at the least,
	spikeBack  = 0.5  // the neighbours differ by no more than this share of that,
	spikeTimes = 4.0  // the values around bend by this times less,
	spikeNear  = 1.05 // and no more than so many seconds lie between the neighbours: in a slower log a shift looks like one.
)

// withoutSpikes is the trace without single values that a lost or broken message left: each would cost a part of the overlap its lag.
func (tr trace) withoutSpikes() trace {
	n := len(tr.v)
	if tr.state || n < 7 {
		return tr
	}
	sorted := slices.Clone(tr.v)
	slices.Sort(sorted)
	least := spikeShare * (sorted[n*98/100] - sorted[n*2/100])
	bend := func(i int) float64 { return math.Abs(tr.v[i] - (tr.v[i-1]+tr.v[i+1])/2) }
	out := trace{state: tr.state, period: tr.period, t: make([]float64, 0, n), v: make([]float64, 0, n)}
	for i := range n {
		if i >= 3 && i+3 < n && tr.t[i+1]-tr.t[i-1] <= spikeNear {
			a, v, b := tr.v[i-1], tr.v[i], tr.v[i+1]
			off := bend(i)
			if (v-a)*(v-b) > 0 && off > least && math.Abs(a-b) <= spikeBack*off && off > spikeTimes*max(bend(i-2), bend(i+2)) {
				continue
			}
		}
		out.t, out.v = append(out.t, tr.t[i]), append(out.v, tr.v[i])
	}
	return out
}
