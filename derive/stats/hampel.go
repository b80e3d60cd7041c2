package stats

import (
	"math"
	"slices"
)

// Hampel finds values that stand off from their neighbours: further from the median of the values within half of their time than
// limit robust standard deviations, 1.4826 MAD (40 CFR 1037.528(g)(1): half 3 s, limit 3). It returns the series with those values
// replaced by that median, and their indices; x stays as it is. Times t must not decrease. A missing value stays missing. Where more
// than half of a window is one value (a quantised or held signal) its MAD is 0 and every other value in it stands off: then nothing is
// flagged, as nothing is known of the scatter.
func Hampel(t, x []float64, half, limit float64) (clean []float64, off []int) {
	clean = slices.Clone(x)
	var w []float64 // The values present in the window, sorted; it slides without being sorted anew.
	from, to := 0, 0
	for i := range x {
		for to < len(x) && t[to] <= t[i]+half {
			w = insert(w, x[to])
			to++
		}
		for from < to && t[from] < t[i]-half {
			w = remove(w, x[from])
			from++
		}
		if math.IsNaN(x[i]) {
			continue
		}
		middle := sortedQuantile(0.5, w)
		if s := sigmaPerMAD * sortedMAD(w, middle); s > 0 && math.Abs(x[i]-middle) > limit*s {
			clean[i], off = middle, append(off, i)
		}
	}
	return clean, off
}

func insert(w []float64, v float64) []float64 {
	if math.IsNaN(v) {
		return w
	}
	at, _ := slices.BinarySearch(w, v)
	return slices.Insert(w, at, v)
}

func remove(w []float64, v float64) []float64 {
	if at, there := slices.BinarySearch(w, v); there {
		return slices.Delete(w, at, at+1)
	}
	return w
}

// sortedMAD is the median distance from the middle: the values on either side of it are merged outwards as far as the median needs.
func sortedMAD(w []float64, middle float64) float64 {
	n := len(w)
	right, _ := slices.BinarySearch(w, middle)
	left, last, before := right-1, 0.0, 0.0
	for range n/2 + 1 {
		before = last
		if right >= n || left >= 0 && middle-w[left] <= w[right]-middle {
			last = middle - w[left]
			left--
		} else {
			last = w[right] - middle
			right++
		}
	}
	if n%2 == 1 {
		return last
	}
	return (before + last) / 2
}
