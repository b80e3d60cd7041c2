package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// TQuantile is the p-quantile of Student's t with df degrees of freedom, which need not be whole (Welch). The table in
// 40 CFR 1065.602 is TQuantile(0.975, df) and TQuantile(0.95, df). NaN unless 0 < p < 1 and df > 0.
func TQuantile(p, df float64) float64 {
	if !(p > 0 && p < 1 && df > 0) {
		return math.NaN()
	}
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	if p < 0.5 {
		return -TQuantile(1-p, df)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}

// TProbability is the probability that Student's t with df degrees of freedom is at most t. NaN unless df > 0.
func TProbability(t, df float64) float64 {
	if !(df > 0) || math.IsNaN(t) {
		return math.NaN()
	}
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.CDF(t)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.CDF(t)
}
