package stats

import "math"

// fewToPick is how many values are sorted rather than picked from.
const fewToPick = 48

// pickQuantile is sortedQuantile of values in any order, without NaN, which it reorders: the two order statistics that the quantile lies
// between are found by selection (Hoare 1961), at a cost that grows with the number of values alone.
func pickQuantile(p float64, s []float64) float64 {
	if len(s) == 0 || math.IsNaN(p) || p < 0 || p > 1 {
		return math.NaN()
	}
	h := p * float64(len(s)-1)
	i := int(h)
	at := Nth(s, i)
	if i+1 >= len(s) {
		return at
	}
	next := s[i+1] // What Nth left behind i is none of it smaller.
	for _, v := range s[i+2:] {
		next = min(next, v)
	}
	if at == next {
		return at // Also keeps two infinities from giving NaN.
	}
	return at + (h-float64(i))*(next-at)
}

// Nth is the k-th smallest of values without NaN, counted from 0. It reorders them: the value comes to its place, no larger one before it
// and no smaller one behind it. It panics where k is no index of s.
func Nth(s []float64, k int) float64 {
	for lo, hi := 0, len(s)-1; lo < hi; {
		pivot := middleOf(s[lo], s[lo+(hi-lo)/2], s[hi])
		i, j := lo, hi
		for i <= j {
			for s[i] < pivot {
				i++
			}
			for s[j] > pivot {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return s[k]
		}
	}
	return s[k]
}

// middleOf is the median of three, so that an ordered or folded signal is not the worst case.
func middleOf(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }
