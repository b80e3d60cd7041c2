package segment

import (
	"fmt"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// What makes a single logged value a spike. Common practice, no source.
const (
	spikeTimes = 4.0  // It stands off the line between its neighbours by so many times what those stand off theirs,
	spikeMove  = 1.5  // by more than so many times what lies between the neighbours,
	spikeLeast = 0.30 // and by this share of the column's range at the least: the crest of a shift in a slow log is half as high.
	spikeOver  = 0.05 // Of the column's range: further outside it no value is believed.
	spikeNear  = 0.6  // s. From neighbour to neighbour: over a longer time a real movement may look like one.
)

// clean is a frame without spikes: single values far off both neighbours, as a lost or broken message leaves them, and values
// that the column cannot hold. The frame itself keeps them; a frame without any is returned as it is. The foot can do in a row
// what nothing else can: pedal and load keep single values, and states keep all. Count tells what was taken out of each column.
func clean(f *schema.Frame) (out *schema.Frame, count map[string]int) {
	out, count = f, map[string]int{}
	at := map[string][]int{}
	for _, name := range f.Names() {
		if col, ok := schema.Lookup(name); ok && col.Kind != schema.State && name != "t_s" {
			at[name] = beyond(col, f.Column(name))
			if name != "pedal_pct" && name != "load_pct" {
				at[name] = append(at[name], spikes(f.T, f.Column(name))...)
			}
		}
	}
	for name, from := range reckoned() { // One spike beside another's hides among what the two make of it.
		if f.Column(name) != nil {
			for _, other := range from {
				at[name] = append(at[name], at[other]...)
			}
		}
	}
	for _, name := range f.Names() {
		if len(at[name]) == 0 {
			continue
		}
		if out == f {
			out = schema.NewFrame(f.T)
			for _, n := range f.Names() {
				if n != "t_s" {
					out.Set(n, f.Column(n))
				}
			}
		}
		y := append([]float64(nil), f.Column(name)...)
		for _, i := range at[name] {
			if !math.IsNaN(y[i]) {
				y[i] = math.NaN()
				count[name]++
			}
		}
		out.Set(name, y)
	}
	return out, count
}

// reckoned are the columns of power and torque with what they are made of, in which a spike is one of theirs.
func reckoned() map[string][]string {
	return map[string][]string{
		"torque_nm":      {"wheel_power_kw", "engine_speed_rpm"},
		"torque_corr_nm": {"wheel_power_kw", "engine_speed_rpm"},
		"power_corr_kw":  {"wheel_power_kw"},
	}
}

// beyond are the indices of values outside the column's range by more than a little of it.
func beyond(col schema.Column, x []float64) []int {
	if len(col.Range) != 2 {
		return nil
	}
	slack := spikeOver * (col.Range[1] - col.Range[0])
	var at []int
	for i, v := range x {
		if v < col.Range[0]-slack || v > col.Range[1]+slack {
			at = append(at, i)
		}
	}
	return at
}

// spikes are the indices of spikes among values at times t.
func spikes(t, x []float64) []int {
	var rows []int // Of the values, where some are missing.
	if slices.ContainsFunc(x, math.IsNaN) {
		rows, t, x = present(t, x)
	}
	var at []int
	least := math.NaN()
	bend := func(k int) float64 { return math.Abs(x[k] - (x[k-1]+x[k+1])/2) }
	for k := 3; k+3 < len(x); k++ {
		before, v, after := x[k-1], x[k], x[k+1]
		if (v-before)*(v-after) <= 0 {
			continue
		}
		off := math.Abs(v - (before+after)/2)
		if off <= spikeMove*math.Abs(after-before) || t[k+1]-t[k-1] > spikeNear || off <= spikeTimes*max(bend(k-2), bend(k+2)) {
			continue
		}
		if math.IsNaN(least) { // Only where it comes to that: sorting takes its time.
			ends := stats.Quantiles(x, 0.02, 0.98)
			least = spikeLeast * (ends[1] - ends[0])
		}
		if off > least {
			at = append(at, k)
		}
	}
	for i, k := range at {
		if rows != nil {
			at[i] = rows[k]
		}
	}
	return at
}

// present leaves missing values out; rows are the indices of the others.
func present(t, x []float64) (rows []int, times, values []float64) {
	rows, times, values = make([]int, 0, len(x)), make([]float64, 0, len(x)), make([]float64, 0, len(x))
	for i, v := range x {
		if !math.IsNaN(v) {
			rows, times, values = append(rows, i), append(times, t[i]), append(values, v)
		}
	}
	return rows, times, values
}

// tellSpikes adds a finding for each column that holds spikes.
func (s *scan) tellSpikes(count map[string]int) {
	for _, name := range s.frame.Names() {
		if n := count[name]; n > 0 {
			s.find(schema.Note, "spikes_left_out", name, fmt.Sprintf("%d values stand far off both neighbours or are more than %s can be: they stay in samples, "+
				"and no segment or curve is made of them", n, name), float64(n), "", math.NaN(), math.NaN())
		}
	}
}
