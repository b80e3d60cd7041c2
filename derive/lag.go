package derive

import (
	"fmt"
	"math"
	"slices"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// How the lag of a slow probe is found (common practice, no source).
const (
	cutFrom  = 0.4  // Of the usual most: what fuel or pedal falls from,
	cutTo    = 0.05 // to, and stays at
	cutStays = 4.0  // s at the least.
	cutLong  = 15.0 // s that are looked at.
	cutDelay = 0.2  // s that the gas takes to the probe.
	cutFall  = 40.0 // K that the temperature falls by in a cut that tells.
	cutFit   = 0.98 // Share of the fall that the curve must explain.
	lagLeast = 0.1  // s.
	lagMost  = 30.0
	cutRows  = 8
)

// Unlag is what a probe of first order would have read without its lag, T + τ dT/dt (energy balance of the probe): temperatures in °C at times in s, τ in s. The
// slope is that of a parabola over τ/2 on either side, or five rows, so that faster changes stay hidden and noise grows by about τ over
// that time. NaN where the temperature is.
func Unlag(t, c []float64, tau float64) []float64 {
	half := max(tau/2, samplesHalf*period(t))
	out := make([]float64, len(c))
	for i, v := range c {
		if out[i] = v; !math.IsNaN(v) {
			_, slope := stats.Local(t, c, nil, t[i], half, 2)
			out[i] = v + tau*slope
		}
	}
	return out
}

// Decay fits T = T_end + ΔT exp(-(t - t0)/τ) by least squares and gives τ in s with its standard error, and the share of the variance that
// the curve explains: the answer of a probe of first order to a step. The errors are taken as independent. NaN where no τ from 0.1 to 30 s fits best.
func Decay(t, c []float64) (tau stats.Estimate, explained float64) {
	misfit := func(tau float64) float64 { return decayAt(t, c, tau).SSE }
	const steps = 60
	at := func(k float64) float64 { return lagLeast * math.Pow(lagMost/lagLeast, k/steps) }
	best := 0.0
	for k := 0.0; k <= steps; k++ {
		if misfit(at(k)) < misfit(at(best)) {
			best = k
		}
	}
	none := stats.Estimate{Value: math.NaN(), SE: math.NaN(), DF: math.NaN()}
	if best == 0 || best == steps {
		return none, math.NaN()
	}
	lo, hi := best-1, best+1
	for range 40 { // Golden section on the logarithm.
		const g = 0.6180339887498949
		if a, b := hi-g*(hi-lo), lo+g*(hi-lo); misfit(at(a)) < misfit(at(b)) {
			hi = b
		} else {
			lo = a
		}
	}
	value := at((lo + hi) / 2)
	flat := decayAt(t, c, value)
	ones, e := decayColumns(t, value)
	slope := make([]float64, len(t)) // How the curve moves with τ.
	for i := range t {
		slope[i] = flat.Coefficients[1].Value * (t[i] - t[0]) / (value * value) * e[i]
	}
	bent := stats.Regress(c, ones, e, slope)
	total := stats.Regress(c, ones)
	return stats.Estimate{Value: value, SE: bent.Coefficients[2].SE, DF: bent.DF}, 1 - flat.SSE/total.SSE
}

func decayAt(t, c []float64, tau float64) stats.Fit {
	ones, e := decayColumns(t, tau)
	return stats.Regress(c, ones, e)
}

func decayColumns(t []float64, tau float64) (ones, e []float64) {
	ones, e = make([]float64, len(t)), make([]float64, len(t))
	for i := range t {
		ones[i], e[i] = 1, math.Exp(-(t[i]-t[0])/tau)
	}
	return ones, e
}

// lag estimates the time constants that the vehicle's entry asks for, and adds the corrected columns that it asks for.
func (w *work) lag() {
	for _, name := range [...]string{"turbine_in_c", "turbine_out_c"} {
		asked, ok := w.Vehicle.Lag[name]
		if !ok || !w.Has(name) {
			continue
		}
		tau := asked.TimeS
		if tau == 0 {
			tau = w.estimateLag(name)
		}
		if !asked.Correct || math.IsNaN(tau) {
			continue
		}
		fast := name[:len(name)-len("_c")] + "_fast_c"
		w.Set(fast, Unlag(w.T, w.Column(name), tau))
		w.find(schema.Note, "lag_corrected", fast, fmt.Sprintf("as the vehicle's entry asks, it is %s with a lag of first order of %.3g s taken off, which makes its noise grow; %[1]s itself is as logged, and nothing else is made of it", name, tau), tau, "s")
	}
}

// estimateLag finds a probe's time constant where the fuel is cut; NaN where none shows it.
func (w *work) estimateLag(name string) float64 {
	var taus []float64
	var last stats.Estimate
	for _, s := range w.cuts() {
		t, c := w.T[s.From:s.To], w.Column(name)[s.From:s.To]
		if len(stats.Present(c)) < max(cutRows, len(c)) || c[0]-slices.Min(c) < cutFall {
			continue
		}
		if e, share := Decay(t, c); share >= cutFit && t[len(t)-1]-t[0] >= 1.5*e.Value {
			taus, last = append(taus, e.Value), e
		}
	}
	if len(taus) == 0 {
		w.find(schema.Note, "lag_unknown", name, fmt.Sprintf("its lag was asked for and cannot be estimated: it needs a fuel cut or a pedal let go for %g s, with a fall by %g K; or state the time constant", cutStays, cutFall), math.NaN(), "s")
		return math.NaN()
	}
	tau, how := last.Value, "the fit's own"
	i := last.Interval(0.95)
	if len(taus) > 1 {
		e := stats.Summary(taus).Estimate()
		tau, i, how = e.Value, e.Interval(0.95), "from their scatter"
	}
	w.find(schema.Note, "lag_estimated", name, fmt.Sprintf("the probe's lag is %.3g s, 95 %% interval %.3g to %.3g (%s), the mean of %d fuel cuts; it is an upper bound, as walls that cool slowly count too", tau, i.Lo, i.Hi, how, len(taus)), tau, "s")
	return tau
}

// cuts are the stretches after which the fuel, else the pedal, has been let go at once.
func (w *work) cuts() []stats.Span {
	x, name := w.of("fuel_kg_h", "inj_mg", "pedal_pct")
	if name == "" {
		return nil
	}
	most := stats.Quantile(0.98, x.column)
	var out []stats.Span
	for _, s := range stats.Where(w.Len(), func(i int) bool { return x.at(i) <= cutTo*most }) {
		before := stats.Lower(w.T, w.T[s.From]-1)
		if w.T[s.To-1]-w.T[s.From] < cutStays || before == s.From || !(stats.Quantile(1, x.column[before:s.From]) >= cutFrom*most) {
			continue
		}
		from, to := stats.Lower(w.T, w.T[s.From]+cutDelay), min(s.To, stats.Lower(w.T, w.T[s.From]+cutLong))
		if to-from >= cutRows {
			out = append(out, stats.Span{From: from, To: to})
		}
	}
	return out
}
