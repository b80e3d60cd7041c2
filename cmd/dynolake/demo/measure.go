package demo

import (
	"math"
	"slices"
	"sort"
)

// Thresholds of the net drive ratio whose onsets the truth states.
var thresholds = [...]float64{1, 1.2, 1.5, 2}

const (
	leastBoost = 35.0 // kPa: below it the ratio is not formed.
	speedBin   = 50.0
	powerBin   = 5.0
	wholeTo    = 0.98 // Share of peak power up to which bins are stated: a pull that is a little weaker crosses them too.
)

// measured is one noiseless pull, read off its trace.
type measured struct {
	peakPower, peakRPM    float64
	peakTorque, torqueRPM float64
	ratioMin              float64
	onset                 [len(thresholds)]float64
	bySpeed, byPower      map[int]*sums
	settledRPM, settledKW float64 // From where a speed bin is passed and the boost has come within 3 % of its target.
	lastRPM               float64
}

// sums gathers a bin. Each row stands for the same time.
type sums struct {
	n                                                        float64
	torque, power, boost, net, ratio, gross, gauge, dpf, lam float64
}

func boostOf(r *row) float64 { return r[atMap] - r[atBaro] }

func ratioOf(r *row) float64 {
	b := boostOf(r)
	if b < leastBoost {
		return math.NaN()
	}
	return (r[atIn] - r[atOut]) / b
}

// measure reads a pull. Rows up to peak power go to the bins of power, all to the bins of speed.
func measure(t *trace, s span) measured {
	m := measured{bySpeed: map[int]*sums{}, byPower: map[int]*sums{}, settledRPM: math.NaN(), settledKW: math.NaN()}
	peak := s.from
	for i := s.from; i < s.to; i++ {
		r := &t.rows[i]
		if r[atPower] > m.peakPower {
			m.peakPower, m.peakRPM, peak = r[atPower], r[atSpeed], i
		}
		if r[atTorque] > m.peakTorque {
			m.peakTorque, m.torqueRPM = r[atTorque], r[atSpeed]
		}
		if math.IsNaN(m.settledRPM) && r[atSpeed] > t.rows[s.from][atSpeed]+speedBin && boostOf(r) >= 0.97*(r[atTarget]-r[atBaro]) {
			m.settledRPM, m.settledKW = r[atSpeed], r[atPower]
		}
		m.lastRPM = r[atSpeed]
	}
	for i := s.from; i < s.to; i++ {
		r := &t.rows[i]
		into(m.bySpeed, int(r[atSpeed]/speedBin), r)
		if i <= peak {
			into(m.byPower, int(r[atPower]/powerBin), r)
		}
	}
	m.onsets(t.rows[s.from : peak+1])
	return m
}

func into(bins map[int]*sums, k int, r *row) {
	s := bins[k]
	if s == nil {
		s = &sums{}
		bins[k] = s
	}
	s.n++
	s.torque += r[atTorque]
	s.power += r[atPower]
	s.boost += boostOf(r)
	s.net += r[atIn] - r[atOut]
	if b := boostOf(r); b >= leastBoost {
		s.ratio += (r[atIn] - r[atOut]) / b
		s.gross += (r[atIn] - r[atBaro]) / b
	} else {
		s.ratio, s.gross = math.NaN(), math.NaN()
	}
	s.gauge += r[atOut] - r[atBaro]
	s.dpf += r[atFilter]
	s.lam += r[atLambda]
}

// onsets finds the ratio's minimum and, behind it, the power from which the ratio stays at or above each threshold.
func (m *measured) onsets(rows []row) {
	least := 0
	m.ratioMin = math.Inf(1)
	for i := range rows {
		if q := ratioOf(&rows[i]); q < m.ratioMin {
			m.ratioMin, least = q, i
		}
	}
	for k, threshold := range thresholds {
		m.onset[k] = math.NaN()
		for i := len(rows) - 2; i >= least; i-- {
			a, b := ratioOf(&rows[i]), ratioOf(&rows[i+1])
			if b < threshold {
				break
			}
			if a < threshold {
				u := (threshold - a) / (b - a)
				m.onset[k] = rows[i][atPower] + u*(rows[i+1][atPower]-rows[i][atPower])
				break
			}
		}
	}
}

// median of the finite values; NaN where more than half are missing.
func median(v []float64) float64 {
	finite := slices.DeleteFunc(slices.Clone(v), math.IsNaN)
	if 2*len(finite) <= len(v) {
		return math.NaN()
	}
	sort.Float64s(finite)
	n := len(finite)
	return (finite[(n-1)/2] + finite[n/2]) / 2
}

// over is the median over pulls of one figure.
func over(pulls []measured, f func(*measured) float64) float64 {
	v := make([]float64, len(pulls))
	for i := range pulls {
		v[i] = f(&pulls[i])
	}
	return median(v)
}

// within lists the bins that every pull crosses whole between lo and hi.
func within(pulls []measured, width float64, lo, hi func(*measured) float64) []int {
	a, b := math.Inf(-1), math.Inf(1)
	for i := range pulls {
		a, b = max(a, lo(&pulls[i])), min(b, hi(&pulls[i]))
	}
	var bins []int
	for k := int(math.Ceil(a / width)); float64(k+1)*width <= b; k++ {
		bins = append(bins, k)
	}
	return bins
}
