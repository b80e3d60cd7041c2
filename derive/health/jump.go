package health

import (
	"fmt"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Spikes and drops.
const (
	spikeWindow = 3.0  // s on either side (40 CFR 1037.528(g)(1)),
	spikeLimit  = 3.0  // and robust standard deviations from the median there (the same).
	spikeShare  = 0.30 // Of the channel's range: the crest of a shift in a slow log is half as high.
	spikeBack   = 0.30 // Of the spike: what the values on both sides may differ by.
	spikeSteps  = 4.0  // Times the usual step around it.
	spikeApart  = 0.6  // s between the values on both sides; over a longer time a movement may look like a spike.
	spikeSlow   = 5.0  // The same for a temperature, whose probe follows in seconds.
	spikeQuanta = 6.0  // Times its own step, and
	spikeKelvin = 25.0 // K of a temperature, that it stands off at the least: settled ones flicker between two degrees.
	spikeMany   = 10
	dropFrom    = 0.40 // Of the usual most: what a channel falls from to nothing at once, and comes back to.
	dropLong    = 5.0  // s.
	dropGauge   = 0.25 // s between the values of a gauge pressure, which a closing throttle may take to zero in half a second.
	gapSeconds  = 2.0  // s without a value, and
	gapPeriods  = 10.0 // so many periods of the channel.
	gapRows     = 5    // Rows of its own clock that are blank.
	gapPresent  = 0.5  // Share of cells that a channel must have between its ends.
)

// leaps are columns that may leap and come back by themselves: what a foot does, what follows it at once, and what a shift lets
// leap at the wheels.
func leaps(c schema.Column) bool {
	switch c.Quantity {
	case "percentage", "torque", "power", "force", "count", "concentration", "voltage", "mass", "mass per stroke", "ratio":
		return true
	}
	return slices.Contains([]string{"fuel_kg_h", "rail_set_kpa", "map_set_kpa"}, c.Name)
}

// dropped finds where the channel falls to nothing from one value to the next and comes back as suddenly; at tells the values.
func (s signal) dropped() (found []schema.Finding, at map[int]bool) {
	most := s.usualMost()
	if leaps(s.Column) || !(most > 0) || s.low > 0 {
		return nil, nil
	}
	gauge := s.AddBaro || s.Column.Reference == schema.Gauge || s.Column.Reference == schema.Difference
	if gauge && s.period > dropGauge {
		return nil, nil
	}
	n, seconds, t0, t1 := 0, 0.0, math.NaN(), math.NaN()
	at = map[int]bool{}
	for p := range s.plateaus(1) {
		if s.v[p.from] != 0 || p.from == 0 || p.to == len(s.v) || s.t[p.to]-s.t[p.from-1] > dropLong {
			continue
		}
		before, after := s.v[p.from-1], s.v[p.to]
		if before < dropFrom*most || after < dropFrom*most || math.Abs(before-after) > 0.5*math.Max(before, after) {
			continue
		}
		if n++; n == 1 {
			t0 = s.t[p.from]
		}
		seconds, t1 = seconds+s.t[p.to]-s.t[p.from], s.t[p.to-1]
		for i := p.from; i < p.to; i++ {
			at[i] = true
		}
	}
	if n == 0 {
		return nil, nil
	}
	return []schema.Finding{s.find(schema.Doubt, "channel_dropout", fmt.Sprintf("%q falls to 0 at once and comes back as suddenly, %d times, for %.2f s in all: a loose plug or a lost message rather than a reading; the zeros are kept as logged", s.Name, n, seconds), float64(n), "1", t0, t1)}, at
}

// usualMost is the upper end of nearly all values, logged unit.
func (s signal) usualMost() float64 {
	if s.Scale == 0 {
		return math.NaN()
	}
	return math.Max((s.q98-s.Offset)/s.Scale, (s.q02-s.Offset)/s.Scale)
}

// spiking finds single values that stand off by the Hampel rule and that nothing around explains.
func (s signal) spiking(dropped map[int]bool) []schema.Finding {
	least := max(spikeShare*s.span(), spikeQuanta*s.step*math.Abs(s.Scale), telling(s.Column.Name)/4)
	if s.Column.Quantity == "temperature" {
		least = max(least, spikeKelvin)
	}
	least /= math.Abs(s.Scale)
	if leaps(s.Column) || !(least > 0) {
		return nil
	}
	n, most, t0, t1, apart := 0, 0.0, math.NaN(), math.NaN(), spikeApart
	if s.Column.Quantity == "temperature" {
		apart = spikeSlow
	}
	for i := 1; i+1 < len(s.v); i++ {
		a, v, b := s.v[i-1], s.v[i], s.v[i+1]
		off := math.Abs(v - (a+b)/2)
		if off < least || (v-a)*(v-b) <= 0 || math.Abs(a-b) > spikeBack*off || s.t[i+1]-s.t[i-1] > apart || dropped[i] || !s.standsOff(i, off) {
			continue
		}
		if n++; n == 1 {
			t0 = s.t[i]
		}
		most, t1 = math.Max(most, off), s.t[i]
	}
	if n == 0 {
		return nil
	}
	severity := schema.Note
	if n >= spikeMany || float64(n) > 0.01*float64(len(s.v)) {
		severity = schema.Doubt
	}
	return []schema.Finding{s.find(severity, "channel_spiking", fmt.Sprintf("%q has %d single values that stand off all around them, by up to %.5g %s: look at its wiring and at what is switched beside it; they are kept as logged", s.Name, n, most, s.Unit), float64(n), "1", t0, t1)}
}

// standsOff holds a value against the median and the steps around it.
func (s signal) standsOff(i int, off float64) bool {
	from, to := s.within(s.t[i]-spikeWindow, s.t[i]+spikeWindow)
	around := s.v[from:to]
	if len(around) < 7 {
		return false
	}
	middle, spread := stats.Median(around), stats.Spread(around)
	if math.Abs(s.v[i]-middle) <= spikeLimit*spread {
		return false
	}
	var steps []float64
	for k := from + 1; k < to; k++ {
		if k != i && k != i+1 {
			steps = append(steps, math.Abs(s.v[k]-s.v[k-1]))
		}
	}
	return off > spikeSteps*stats.Quantile(0.9, steps)
}

// missing finds long stretches of blank cells within a channel that is otherwise there.
func (s signal) missing() []schema.Finding {
	n, seconds, t0, t1 := 0, 0.0, math.NaN(), math.NaN()
	if s.rows == nil {
		return nil
	}
	if cells := s.rows[len(s.rows)-1] - s.rows[0] + 1; float64(len(s.rows)) < gapPresent*float64(cells) {
		return nil
	}
	for i := 1; i < len(s.rows); i++ {
		gap := s.t[i] - s.t[i-1]
		if s.rows[i]-s.rows[i-1] <= gapRows || gap <= math.Max(gapSeconds, gapPeriods*s.period) {
			continue
		}
		if n++; n == 1 {
			t0 = s.t[i-1]
		}
		seconds, t1 = seconds+gap, s.t[i]
	}
	if n == 0 {
		return nil
	}
	return []schema.Finding{s.find(schema.Note, "channel_dropout", fmt.Sprintf("%q has %d gaps of blank cells, %.1f s in all, while other channels go on: what needs it is missing there", s.Name, n, seconds), float64(n), "1", t0, t1)}
}
