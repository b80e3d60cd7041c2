package health

import (
	"iter"
	"math"
	"slices"
	"sort"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Channel is one logged signal that became a column.
type Channel struct {
	Column  schema.Column
	Name    string    // As logged.
	Unit    string    // As logged.
	Source  string    // The log that it is from.
	T       []float64 // Of every row of its clock, s, not decreasing.
	Logged  []float64 // In the logged unit, NaN where missing; as long as T.
	Scale   float64   // stored = logged*Scale + Offset.
	Offset  float64
	AddBaro bool // Logged as gauge: barometric is added to give the stored value.
}

// signal is a channel with its missing rows left out.
type signal struct {
	Channel
	rows   []int // Of each value, its row; nil where each row has one.
	t, v   []float64
	period float64 // s, the median step between values.
	q02    float64 // Stored unit, without barometric, from a sample of the values.
	q98    float64
	low    float64 // Logged unit, of all values.
	high   float64
	step   float64 // Logged unit: the quantum that all values are multiples of apart; 0 where there is none.
}

// sampled bounds how many values quantiles are taken of: of a long log they would cost more than all else.
const sampled = 4096

// newSignal looks a channel over. periods keeps the median step of clocks by their first time, for the channels that have a value in
// each of a clock's rows.
func newSignal(c Channel, periods map[*float64]float64) signal {
	s := signal{Channel: c, low: math.Inf(1), high: math.Inf(-1)}
	s.present()
	for _, v := range s.v {
		s.low, s.high = min(s.low, v), max(s.high, v)
	}
	if len(s.v) < 2 {
		return s
	}
	stride := max(1, len(s.v)/sampled)
	values := make([]float64, 0, len(s.v)/stride+1)
	for i := 0; i < len(s.v); i += stride {
		values = append(values, s.stored(s.v[i]))
	}
	s.q02, s.q98 = at(values, 0.02), at(values, 0.98)
	s.step = s.quantum()
	if s.rows != nil {
		s.period = period(s.t, stride, values)
		return s
	}
	if known, ok := periods[&s.t[0]]; ok {
		s.period = known
		return s
	}
	s.period = period(s.t, stride, values)
	periods[&s.t[0]] = s.period
	return s
}

// present leaves the rows out in which the value or the time is missing. A channel without any shares its slices.
func (s *signal) present() {
	if !slices.ContainsFunc(s.Logged, math.IsNaN) && !slices.ContainsFunc(s.T, math.IsNaN) && len(s.T) == len(s.Logged) {
		s.t, s.v = s.T, s.Logged
		return
	}
	n := len(s.Logged)
	s.rows, s.t, s.v = make([]int, 0, n), make([]float64, 0, n), make([]float64, 0, n)
	for i, v := range s.Logged {
		if !math.IsNaN(v) && !math.IsNaN(s.T[i]) {
			s.rows, s.t, s.v = append(s.rows, i), append(s.t, s.T[i]), append(s.v, v)
		}
	}
}

// period is the median step of a clock, of steps a stride apart; 0 without any. It uses room up.
func period(t []float64, stride int, room []float64) float64 {
	steps := room[:0]
	for i := stride; i < len(t); i += stride {
		steps = append(steps, t[i]-t[i-1])
	}
	if len(steps) == 0 {
		return 0
	}
	return at(steps, 0.5)
}

func at(values []float64, p float64) float64 {
	return stats.Nth(values, int(p*float64(len(values)-1)))
}

// stored brings a logged value into the column's unit, without barometric.
func (s signal) stored(v float64) float64 { return v*s.Scale + s.Offset }

// span is the range of nearly all values, stored unit.
func (s signal) span() float64 { return s.q98 - s.q02 }

// quantum is the least difference between neighbouring values where nearly all differences are whole multiples of it.
func (s signal) quantum() float64 {
	least := math.Inf(1)
	for i := 1; i < len(s.v); i++ {
		if d := math.Abs(s.v[i] - s.v[i-1]); d > 1e-9*(1+math.Abs(s.v[i])) {
			least = min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	whole, n, stride := 0, 0, max(1, len(s.v)/sampled)
	for i := stride; i < len(s.v); i += stride {
		d := math.Abs(s.v[i]-s.v[i-1]) / least
		if d < 1e-6 {
			continue
		}
		if n++; math.Abs(d-math.Round(d)) < 0.02*math.Max(1, d/10) {
			whole++
		}
	}
	if n == 0 || float64(whole) < 0.95*float64(n) {
		return 0
	}
	return least
}

// within gives the indices of the values from t0 to t1.
func (s signal) within(t0, t1 float64) (from, to int) {
	return sort.SearchFloat64s(s.t, t0), sort.Search(len(s.t), func(i int) bool { return s.t[i] > t1 })
}

// plateau is a stretch of equal values: those with indices from to to-1.
type plateau struct{ from, to int }

// seconds is how long a plateau lasts from its first value to its last.
func (s signal) seconds(p plateau) float64 { return s.t[p.to-1] - s.t[p.from] }

// plateaus lists the stretches of at least n equal values.
func (s signal) plateaus(n int) iter.Seq[plateau] {
	return func(yield func(plateau) bool) {
		for from := 0; from < len(s.v); {
			to := from + 1
			for to < len(s.v) && s.v[to] == s.v[from] {
				to++
			}
			if to-from >= n && !yield(plateau{from, to}) {
				return
			}
			from = to
		}
	}
}

// entrySeconds is how long before a plateau its entry is looked at.
const entrySeconds = 0.5

// entry is how far the channel rose in the last half second, or the last three steps, before a plateau, logged unit; 0 at the beginning of a log.
func (s signal) entry(p plateau) float64 {
	if p.from == 0 {
		return 0
	}
	from, _ := s.within(s.t[p.from]-entrySeconds, s.t[p.from])
	return s.v[p.from] - s.v[max(0, min(from, p.from-3))]
}

func (s signal) find(severity schema.Severity, code, text string, value float64, unit string, t0, t1 float64) schema.Finding {
	return schema.Finding{Source: s.Source, Severity: severity, Code: code, Channel: s.Column.Name, Text: text, Value: value, Unit: unit, T0S: t0, T1S: t1}
}
