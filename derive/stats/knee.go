package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Knee is where a curve bends: two straight lines that meet (broken stick).
type Knee struct {
	Place
	Below, Above float64 // The slopes before and after it.
	P            float64 // Probability of so strong a bend where the curve is straight, at this place taken as given.
}

// kneeSteps is how finely the places between two bins are tried.
const kneeSteps = 20

// Bend fits two lines that meet to pulls over common bins x, rising: a slice a pull with its mean in each bin (NaN where it has none).
// The place is where the squares are least over all pulls, each with lines of its own. The slopes are the means over the pulls.
//
// The interval holds the places around it at which Student's t over the pulls does not tell the score, how the pulls' misfit would
// change as the knee moves, from 0. Pulls are what is counted, so the bins of one may err together. Of one pull the interval is that
// of the F ratio of the squares, which takes the errors of its bins as independent. Ends are infinite where no place up to the second
// outermost bin can be refused; NaN for fewer than five bins.
//
// 95 % intervals covered 94–96 % in simulations of 2 to 8 pulls however their bins err, and of one pull whose bins err independently; of
// one whose bins err together 55–75 % (TestCoverageKnee).
func Bend(x []float64, pulls [][]float64, level float64) Knee {
	k := Knee{Place: Place{math.NaN(), none()}, Below: math.NaN(), Above: math.NaN(), P: math.NaN()}
	var sticks []stick
	for _, p := range pulls {
		if s := newStick(x, p); len(s.x) >= 5 {
			sticks = append(sticks, s)
		}
	}
	places := tried(x, sticks)
	if len(places) == 0 {
		return k
	}
	total := func(at float64) (sum float64) {
		for _, s := range sticks {
			sum += s.misfit(at)
		}
		return sum
	}
	best, least := 0, math.Inf(1)
	for i, at := range places {
		if v := total(at); v < least {
			best, least = i, v
		}
	}
	k.At = lowest(total, places[max(best-1, 0)], places[min(best+1, len(places)-1)])
	k.lines(sticks)
	accept := func(at float64) bool {
		return math.Abs(slip(sticks, at)) <= TQuantile((1+level)/2, float64(len(sticks)-1))
	}
	if len(sticks) == 1 {
		df := float64(len(sticks[0].x) - 4)
		if df < 1 {
			return k
		}
		limit := total(k.At) * (1 + distuv.F{D1: 1, D2: df}.Quantile(level)/df)
		accept = func(at float64) bool { return total(at) <= limit }
	}
	k.Lo, k.Hi = math.Inf(-1), math.Inf(1)
	for last, i := k.At, best; i >= 0; i-- {
		if at := places[i]; at < k.At && !accept(at) {
			k.Lo = edge(accept, last, at)
			break
		} else if at < k.At {
			last = at
		}
	}
	for last, i := k.At, best; i < len(places); i++ {
		if at := places[i]; at > k.At && !accept(at) {
			k.Hi = edge(accept, last, at)
			break
		} else if at > k.At {
			last = at
		}
	}
	return k
}

// lowest is where a function is least between two places, by golden section.
func lowest(f func(float64) float64, lo, hi float64) float64 {
	const part = 0.6180339887498949
	a, b := hi-part*(hi-lo), lo+part*(hi-lo)
	fa, fb := f(a), f(b)
	for range 40 {
		if fa <= fb {
			hi, b, fb = b, a, fa
			a = hi - part*(hi-lo)
			fa = f(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + part*(hi-lo)
			fb = f(b)
		}
	}
	return (lo + hi) / 2
}

// edge is where a condition ends between a place that has it and one that has not.
func edge(holds func(float64) bool, in, out float64) float64 {
	for range 30 {
		if mid := (in + out) / 2; holds(mid) {
			in = mid
		} else {
			out = mid
		}
	}
	return out
}

// tried are the places at which a knee may be: between the second bin and the last but one.
func tried(x []float64, sticks []stick) []float64 {
	var out []float64
	if len(sticks) == 0 {
		return nil
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	for _, s := range sticks { // Each pull needs two bins on either side.
		lo, hi = max(lo, s.x[1]), min(hi, s.x[len(s.x)-2])
	}
	for i := 0; i+1 < len(x); i++ {
		for j := range kneeSteps {
			if at := x[i] + (x[i+1]-x[i])*float64(j)/kneeSteps; at >= lo && at < hi {
				out = append(out, at)
			}
		}
	}
	return out
}
