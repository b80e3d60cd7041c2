// Package uncertainty carries what inputs may be off by into what is reckoned from them, by the first-order law of propagation of the
// Guide to the Expression of Uncertainty in Measurement (GUM, JCGM 100:2008).
//
// Terms. A standard uncertainty is a standard deviation. An input's effect on a result is its sensitivity times its standard uncertainty,
// signed. The combined standard uncertainty is the root of the effects' squares (GUM eq. 10): inputs count as independent, so that one
// sensor must be one input however often a formula has it.
//
// Validity. First order holds where the formula is nearly straight over an input's uncertainty: of a ratio whose divisor
// is known to 5 % it gives about 1 % too little. Nothing is kept and nothing touched outside.
//
//	u, effects := uncertainty.Propagate(func(x []float64) float64 { return x[0] / x[1] }, []float64{180, 120}, []float64{1.5, 1})
package uncertainty
