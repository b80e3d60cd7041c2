package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Comparison is what the pulls of two calibrations say along a curve, a value a bin.
type Comparison struct {
	Bins      []Estimate // candidate - base by Welch, each bin alone.
	Pointwise []Interval // Each covers its own bin's difference.
	Band      []Interval // All together cover the whole curve's difference: the simultaneous band.
	Mean      Estimate   // candidate - base of the pulls' means over the bins that every pull has.

	level float64
	wider []Interval // The band with half the probability of being wrong.
}

// Compare holds the candidate's pulls against the base's: a slice a pull, in it the pull's mean in each bin, NaN where it has none. All
// must have the same bins in the same order. level is 0.95 for 95 % intervals.
//
// The band is the simultaneous one of the greatest |t| by parametric bootstrap: pulls are drawn from a normal distribution with the
// spread of each bin and the correlation along the curve of the pulls given, the same is computed of them, and the band is as wide as
// holds the whole curve in 95 of 100 such draws. The draws follow from the data alone. Where a bin has no interval (one pull), the
// band has none.
func Compare(base, candidate [][]float64, level float64) Comparison {
	groups := [2][][]float64{base, candidate}
	m := 0
	for _, g := range groups {
		for _, p := range g {
			m = max(m, len(p))
		}
	}
	c := Comparison{Bins: make([]Estimate, m), Pointwise: make([]Interval, m), Band: make([]Interval, m), Mean: overall(groups, m),
		level: level, wider: make([]Interval, m)}
	w := newWelch(groups, m)
	for i := range m {
		c.Bins[i] = Welch(w.bin[0][i], w.bin[1][i])
		c.Pointwise[i] = c.Bins[i].Interval(level)
	}
	top := w.draws()
	c.band(c.Band, sortedQuantile(level, top))
	c.band(c.wider, sortedQuantile((1+level)/2, top))
	return c
}

// band makes intervals of the score that the greatest of the curve's scores stays below; none is narrower than its bin's own.
func (c Comparison) band(to []Interval, score float64) {
	for i, e := range c.Bins {
		half := max(unscore(score, e.DF)*e.SE, (c.Pointwise[i].Hi-c.Pointwise[i].Lo)/2)
		to[i] = Interval{e.Value - half, e.Value + half}
		if e.SE == 0 {
			to[i] = Interval{e.Value, e.Value}
		}
	}
}

// overall compares the pulls' means over the bins that all of them have.
func overall(groups [2][][]float64, m int) Estimate {
	var shared []int
	for i := range m {
		if !slices.ContainsFunc(slices.Concat(groups[0], groups[1]), func(p []float64) bool { return i >= len(p) || math.IsNaN(p[i]) }) {
			shared = append(shared, i)
		}
	}
	var means [2][]float64
	for g, pulls := range groups {
		for _, p := range pulls {
			sum := 0.0
			for _, i := range shared {
				sum += p[i]
			}
			means[g] = append(means[g], sum/float64(len(shared)))
		}
	}
	return Welch(Summary(means[0]), Summary(means[1]))
}

// welch is the two groups bin by bin.
type welch struct {
	groups [2][][]float64
	bin    [2][]Sample
	sd     [2][]float64 // Of each bin, drawn towards the whole curve's so that few pulls do not give none or too much.
}

func newWelch(groups [2][][]float64, m int) *welch {
	w := &welch{groups: groups}
	for g, pulls := range groups {
		w.bin[g], w.sd[g] = make([]Sample, m), make([]float64, m)
		column := make([]float64, len(pulls))
		ss, df := 0.0, 0.0
		for i := range m {
			for k, p := range pulls {
				column[k] = math.NaN()
				if i < len(p) {
					column[k] = p[i]
				}
			}
			w.bin[g][i] = Summary(column)
			if s := w.bin[g][i]; s.N > 1 {
				ss, df = ss+squares(s), df+float64(s.N-1)
			}
		}
		for i, s := range w.bin[g] {
			n := float64(max(s.N-1, 0))
			w.sd[g][i] = math.Sqrt((squares(s) + shrink*ss/df) / (n + shrink))
		}
	}
	return w
}

// shrink is how many degrees of freedom the curve's mean variance counts for beside a bin's own.
const shrink = 4

// bandDraws is how many times the curves are drawn: the level then holds within half a percent.
const bandDraws = 2000

// draws are the greatest scores of curves drawn where there is no difference, sorted; none where no bin has an interval.
func (w *welch) draws() []float64 {
	var used []int
	for i := range w.bin[0] {
		if w.bin[0][i].N > 1 && w.bin[1][i].N > 1 && w.sd[0][i]+w.sd[1][i] > 0 {
			used = append(used, i)
		}
	}
	if len(used) == 0 {
		return nil
	}
	root := w.correlation(used)
	rng := seeded(slices.Concat(w.groups[0], w.groups[1])...)
	_, rank := root.Dims()
	z, y := make([]float64, rank), make([]float64, len(used))
	var sum, square [2][]float64
	for g := range sum {
		sum[g], square[g] = make([]float64, len(used)), make([]float64, len(used))
	}
	top := make([]float64, bandDraws)
	for d := range top {
		for g, pulls := range w.groups {
			clear(sum[g])
			clear(square[g])
			for _, p := range pulls {
				for k := range z {
					z[k] = rng.NormFloat64()
				}
				times(y, root, z)
				for u, i := range used {
					if i < len(p) && !math.IsNaN(p[i]) {
						sum[g][u] += y[u]
						square[g][u] += y[u] * y[u]
					}
				}
			}
		}
		for u, i := range used {
			top[d] = max(top[d], w.drawn(i, [2]float64{sum[0][u], sum[1][u]}, [2]float64{square[0][u], square[1][u]}))
		}
	}
	slices.Sort(top)
	return top
}

// drawn is the score of bin i from the sums and the sums of squares of what was drawn for it.
func (w *welch) drawn(i int, sum, square [2]float64) float64 {
	var v, mean, n [2]float64
	for g := range v {
		n[g] = float64(w.bin[g][i].N)
		mean[g] = w.sd[g][i] * sum[g] / n[g]
		v[g] = w.sd[g][i] * w.sd[g][i] * max(0, square[g]-sum[g]*sum[g]/n[g]) / (n[g] - 1) / n[g]
	}
	df := (v[0] + v[1]) * (v[0] + v[1]) / (v[0]*v[0]/(n[0]-1) + v[1]*v[1]/(n[1]-1))
	return score((mean[1]-mean[0])*(mean[1]-mean[0])/(v[0]+v[1]), df)
}

func times(y []float64, root *mat.Dense, z []float64) {
	raw := root.RawMatrix()
	for u := range y {
		y[u] = floats.Dot(raw.Data[u*raw.Stride:u*raw.Stride+len(z)], z)
	}
}

// score makes t² with df degrees of freedom comparable over df: nearly the normal deviate of the same probability (Wallace 1959, from
// memory). The draws and the band use the same, so that its own error does not count.
func score(t2, df float64) float64 {
	return (8*df + 1) / (8*df + 3) * math.Sqrt(df*math.Log1p(t2/df))
}

// unscore is the t of a score.
func unscore(score, df float64) float64 {
	w := score * (8*df + 3) / (8*df + 1)
	return math.Sqrt(df * math.Expm1(w*w/df))
}

// correlation is a root of the correlation along the curve, which is taken to depend on the distance in bins alone: what all pulls'
// departures from their group's mean say of it, made positive.
func (w *welch) correlation(used []int) *mat.Dense {
	m := len(used)
	sum, count := make([]float64, m), make([]float64, m)
	e := make([]float64, m)
	for g, pulls := range w.groups {
		for _, p := range pulls {
			for u, i := range used {
				e[u] = math.NaN()
				if i < len(p) {
					e[u] = (p[i] - w.bin[g][i].Mean) / w.sd[g][i]
				}
			}
			for u, a := range e {
				for k, b := range e[u:] {
					if v := a * b; !math.IsNaN(v) {
						sum[k], count[k] = sum[k]+v, count[k]+1
					}
				}
			}
		}
	}
	r := mat.NewSymDense(m, nil)
	for u := range m {
		for k := u; k < m; k++ {
			v := 0.0
			if d := k - u; count[d] > 0 && sum[0] > 0 {
				v = max(-1, min(1, sum[d]/count[d]/(sum[0]/count[0])))
			}
			r.SetSym(u, k, v)
		}
		r.SetSym(u, u, 1)
	}
	return positiveRoot(r)
}

// positiveRoot is L with L·Lᵀ the nearest that has no negative eigenvalue and ones on its diagonal; directions that count for nothing
// are left out.
func positiveRoot(r *mat.SymDense) *mat.Dense {
	m := r.SymmetricDim()
	var eigen mat.EigenSym
	if !eigen.Factorize(r, true) { // Never seen for finite values; every bin for itself is the safe side.
		one := mat.NewDense(m, m, nil)
		for i := range m {
			one.Set(i, i, 1)
		}
		return one
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	first := 0
	for first < m-1 && values[first] < 1e-4*values[m-1] {
		first++
	}
	root := mat.NewDense(m, m-first, nil)
	for u := range m {
		length := 0.0
		for k := first; k < m; k++ {
			v := vectors.At(u, k) * math.Sqrt(max(values[k], 0))
			root.Set(u, k-first, v)
			length += v * v
		}
		for k := range m - first {
			root.Set(u, k, root.At(u, k)/math.Sqrt(length))
		}
	}
	return root
}
