package uncertainty

import "math"

// Effect is what an input's standard uncertainty does to a result: half of f(x + u) less f(x - u), which is the sensitivity times u (GUM
// 5.1.3 note 2). Where the formula has no value on one side, such as beside its validity, the other side's difference to f(x)
// stands; NaN where neither side has one.
func Effect(below, at, above float64) float64 {
	switch {
	case math.IsNaN(at) || math.IsNaN(below) && math.IsNaN(above):
		return math.NaN()
	case math.IsNaN(below):
		return above - at
	case math.IsNaN(above):
		return at - below
	}
	return (above - below) / 2
}

// Combined is the combined standard uncertainty of independent effects, the root of the sum of their squares (GUM eq. 10). NaN where
// one of them is; 0 without any.
func Combined(effects ...float64) float64 {
	sum := 0.0
	for _, z := range effects {
		sum += z * z
	}
	return math.Sqrt(sum)
}

// Share is the part of the combined variance that one effect makes; 0 where there is none.
func Share(effect, combined float64) float64 {
	if !(combined > 0) {
		return 0
	}
	return effect * effect / (combined * combined)
}

// Propagate gives the combined standard uncertainty of f at x, u being the inputs' standard uncertainties, and the effect of each.
// x is as it was when it returns.
func Propagate(f func(x []float64) float64, x, u []float64) (combined float64, effects []float64) {
	at := f(x)
	effects = make([]float64, len(x))
	for i, was := range x {
		if u[i] == 0 {
			continue
		}
		x[i] = was - u[i]
		below := f(x)
		x[i] = was + u[i]
		effects[i] = Effect(below, at, f(x))
		x[i] = was
	}
	return Combined(effects...), effects
}

// Freedom is the effective degrees of freedom of a combined uncertainty, u⁴ / Σ zᵢ⁴/νᵢ (Welch and Satterthwaite; GUM eq. G.2b). An
// input whose uncertainty is not in doubt has infinite ones. Infinite where all have.
func Freedom(effects, freedom []float64) float64 {
	sum := 0.0
	for i, z := range effects {
		sum += math.Pow(z, 4) / freedom[i]
	}
	return math.Pow(Combined(effects...), 4) / sum
}
