package schema

import "math"

// weight counts how closely a limit matches, or -1 where it speaks of something else. A vehicle counts for more than all the
// rest together, then a platform, then a duty, then a test.
func (l Limit) weight(vehicle, platform, duty, test string) int {
	sum := 0
	for _, s := range []struct {
		asked, have string
		points      int
	}{{l.Vehicle, vehicle, 8}, {l.Platform, platform, 4}, {l.Duty, duty, 2}, {l.Test, test, 1}} {
		switch s.asked {
		case "":
		case s.have:
			sum += s.points
		default:
			return -1
		}
	}
	return sum
}

// LimitFor gives the bounds of a column that hold for a vehicle, platform, duty and test: for the upper and for the lower
// bound the closest match each, the later entry among equals. Bounds nobody states are NaN; it is false when both are.
func LimitFor(limits []Limit, column, vehicle, platform, duty, test string) (Limit, bool) {
	best := Limit{Column: column, Max: math.NaN(), Min: math.NaN(), Vehicle: vehicle, Platform: platform, Duty: duty, Test: test}
	maxWeight, minWeight := -1, -1
	var maxNote, minNote string
	for _, l := range limits {
		w := l.weight(vehicle, platform, duty, test)
		if l.Column != column || w < 0 {
			continue
		}
		if !math.IsNaN(l.Max) && w >= maxWeight {
			best.Max, maxWeight, maxNote = l.Max, w, l.Note
		}
		if !math.IsNaN(l.Min) && w >= minWeight {
			best.Min, minWeight, minNote = l.Min, w, l.Note
		}
	}
	best.Note = maxNote
	if minNote != maxNote && minNote != "" {
		if best.Note != "" {
			best.Note += "; "
		}
		best.Note += minNote
	}
	return best, maxWeight >= 0 || minWeight >= 0
}
