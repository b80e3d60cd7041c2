package stats

import "math"

// Interval is a stretch of values that covers the true one with the stated probability. NaN ends: no interval can be given.
// Infinite ends: the interval is open there, the values seen set no bound.
type Interval struct{ Lo, Hi float64 }

// Holds tells whether a value lies in the interval.
func (i Interval) Holds(x float64) bool { return i.Lo <= x && x <= i.Hi }

func none() Interval { return Interval{math.NaN(), math.NaN()} }

// Estimate is a value with its standard error and the degrees of freedom that the error stands on (+Inf: it is known).
type Estimate struct{ Value, SE, DF float64 }

// T is the value over its standard error: Student's t for the value 0.
func (e Estimate) T() float64 { return e.Value / e.SE }

// P is the two-sided probability of a value at least so far from 0 where the true one is 0.
func (e Estimate) P() float64 {
	if e.SE == 0 {
		if e.Value == 0 {
			return 1
		}
		return 0
	}
	return 2 * TProbability(-math.Abs(e.T()), e.DF)
}

// Interval is value ± t·SE by Student's t; level is 0.95 for a 95 % interval. Without any scatter (SE 0) it is the value alone.
// NaN where SE or DF is.
func (e Estimate) Interval(level float64) Interval {
	if e.SE == 0 {
		return Interval{e.Value, e.Value}
	}
	half := TQuantile((1+level)/2, e.DF) * e.SE
	return Interval{e.Value - half, e.Value + half}
}

// Welch is candidate - base of two groups' means whose spreads may differ (40 CFR 1065.602(f)(2): SE = √(s₁²/n₁ + s₂²/n₂), degrees
// of freedom by Welch and Satterthwaite). The values must be independent: means of pulls, never a pull's samples. NaN where a group
// has one value or none. Where neither group scatters SE is 0, and a difference within rounding is 0.
//
// How often the 95 % interval covers, by simulation of normal values (TestCoverageWelch): 94–97 % for 3 to 8 pulls each, the spreads alike
// or one three times the other; 96–98 % for 2 and 2. A group of 2 that scatters as much as one of 5 gives 93 %, as one of 8 90 %, and
// three times as much 89 %: so give the calibration that scatters more at least as many pulls.
func Welch(base, candidate Sample) Estimate {
	a, b := base.SD*base.SD/float64(base.N), candidate.SD*candidate.SD/float64(candidate.N)
	e := Estimate{Value: candidate.Mean - base.Mean, SE: math.Sqrt(a + b)}
	e.DF = (a + b) * (a + b) / (a*a/float64(base.N-1) + b*b/float64(candidate.N-1))
	if e.SE <= 1e-13*math.Max(math.Abs(base.Mean), math.Abs(candidate.Mean)) { // Rounding alone; NaN is not.
		e.SE, e.DF = 0, float64(base.N+candidate.N-2)
		if math.Abs(e.Value) <= 1e-12*math.Max(math.Abs(base.Mean), math.Abs(candidate.Mean)) {
			e.Value = 0
		}
	}
	return e
}

// Pooled is candidate - base of two groups' means with one spread in common (Student's two-sample t): n₁ + n₂ - 2 degrees of freedom.
// A group of one value gives none to the spread, so one pull can stand against several. NaN for fewer than three values in all.
func Pooled(base, candidate Sample) Estimate {
	df := float64(base.N + candidate.N - 2)
	e := Estimate{Value: candidate.Mean - base.Mean, SE: math.NaN(), DF: df}
	if base.N < 1 || candidate.N < 1 || df < 1 {
		return e
	}
	variance := (squares(base) + squares(candidate)) / df
	e.SE = math.Sqrt(variance * (1/float64(base.N) + 1/float64(candidate.N)))
	return e
}

func squares(s Sample) float64 {
	if s.N < 2 {
		return 0
	}
	return s.SD * s.SD * float64(s.N-1)
}

// Paired is the mean of candidate - base over pairs measured under the same conditions (40 CFR 1065.602(f)(1)); pairs with a missing
// value are left out. The slices must be of one length. NaN for fewer than two pairs.
func Paired(base, candidate []float64) Estimate {
	d := make([]float64, min(len(base), len(candidate)))
	for i := range d {
		d[i] = candidate[i] - base[i]
	}
	return Summary(d).Estimate()
}

// Holm gives the probabilities of several tests adjusted so that judging each at 5 % finds a false difference among them all in 5 of
// 100 cases at most, whatever their dependence (Holm 1979, step-down Bonferroni). NaN is no test and stays NaN.
func Holm(p []float64) []float64 {
	order := make([]int, 0, len(p))
	out := make([]float64, len(p))
	for i, v := range p {
		out[i] = v
		if !math.IsNaN(v) {
			order = append(order, i)
		}
	}
	sortBy(order, func(i int) float64 { return p[i] })
	worst := 0.0
	for k, i := range order {
		worst = max(worst, min(1, float64(len(order)-k)*p[i]))
		out[i] = worst
	}
	return out
}
