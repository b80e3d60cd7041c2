package align

import (
	"math"
	"slices"
	"sort"
)

// burst is the number of rows below which a clock only carries on another.
const burst = 20

// timebase is the run's rows: the fastest clock, carried on by the next fastest where that one has no rows.
func timebase(clocks [][]float64) []float64 {
	clocks = slices.DeleteFunc(slices.Clone(clocks), func(t []float64) bool { return len(t) == 0 })
	if len(clocks) == 0 {
		return nil
	}
	most := 0
	for _, t := range clocks {
		most = max(most, len(t))
	}
	// A burst of a few rows is no clock to build on, however fast it looks.
	few := min(burst, most)
	sort.SliceStable(clocks, func(a, b int) bool {
		fewA, fewB := len(clocks[a]) < few, len(clocks[b]) < few
		if fewA != fewB {
			return fewB
		}
		return period(clocks[a]) < period(clocks[b])
	})
	rows := slices.Clone(clocks[0])
	for _, t := range clocks[1:] {
		rows = carryOn(rows, t, gapLimit(period(clocks[0])))
	}
	return rows
}

// period is a clock's usual step, infinite with a single row.
func period(t []float64) float64 {
	if step := usualStep(t); step > 0 {
		return step
	}
	return math.Inf(1)
}

// carryOn adds the rows of the slower clock that lie outside rows or in a gap of it longer than limit.
func carryOn(rows, slower []float64, limit float64) []float64 {
	if math.IsInf(limit, 0) {
		limit = 0.5
	}
	var added []float64
	for _, x := range slower {
		k := sort.SearchFloat64s(rows, x) // rows[k-1] < x <= rows[k].
		switch {
		case k == len(rows):
			if x > rows[k-1] {
				added = append(added, x)
			}
		case rows[k] == x:
		case k == 0 || rows[k]-rows[k-1] > limit:
			added = append(added, x)
		}
	}
	if len(added) == 0 {
		return rows
	}
	rows = append(rows, added...)
	slices.Sort(rows)
	return slices.Compact(rows)
}
