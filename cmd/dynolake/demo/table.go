package demo

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// table is what a recorder kept on one clock.
type table struct {
	rate    float64   // Hz.
	t       []float64 // On the recorder's clock, s.
	sensors []*sensor
	values  [][]float64 // One a sensor, a value a time, as finely as the recorder writes it.
}

// tables parts the sensors by their rates, fastest first, and reads them.
func (r recorder) tables(sensors []*sensor, t *trace) []table {
	var out []table
	for _, s := range sensors {
		rate := cmp.Or(s.rate, r.rate)
		i := slices.IndexFunc(out, func(x table) bool { return x.rate == rate })
		if i < 0 {
			out = append(out, table{rate: rate})
			i = len(out) - 1
		}
		out[i].sensors = append(out[i].sensors, s)
	}
	slices.SortStableFunc(out, func(a, b table) int { return cmp.Compare(b.rate, a.rate) })
	for i := range out {
		out[i].fill(r, t)
	}
	return out
}

func (x *table) fill(r recorder, t *trace) {
	n := int((t.duration() - r.begin) * x.rate)
	x.values = make([][]float64, len(x.sensors))
	for i := range n {
		at := float64(i) / x.rate
		x.t = append(x.t, r.base+at)
		for k, s := range x.sensors {
			x.values[k] = append(x.values[k], s.rounded(s.read(t, r.begin+at)))
		}
	}
}

// rounded is the reading as its decimals have it, which no machine's last bit changes; a state is whole.
func (s *sensor) rounded(x float64) float64 {
	if s.state() {
		return math.Round(x)
	}
	p := math.Pow10(s.decimals)
	return math.Round(x*p) / p
}

func (s *sensor) state() bool { return s.column == "gear" || s.column == "converter_locked_frac" }

// instant is the time at which a recorder's clock reads t.
func instant(start time.Time, t float64) time.Time {
	return start.Add(time.Duration(math.Round(t*1e6)) * time.Microsecond)
}
