package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// How surge is looked for.
const (
	surgeWindow = 1.0   // s.
	surgeTick   = 0.25  // s from one window to the next.
	surgeRate   = 100.0 // Hz that the pressure must be logged at (SAE J1826:2022, from a secondary summary).
	surgeSteady = 0.04  // Of the engine speed: what it may move by within a window.
	surgePedal  = 5.0   // Points that the pedal may.
	surgeLeast  = 0.03  // Coefficient of variation, and
	surgeTimes  = 4.0   // so many times the run's usual one, from which surge is suspected (common practice, no source).
)

// Variation is the coefficient of variation of a pressure in kPa about the straight line through it, s / mean, over a window of times in s:
// the surge indicator at steady flow (SAE J1826:2022 judges by the outlet pressure's, at 100 Hz or more; secondary summary). The residual standard
// deviation has n - 2 degrees of freedom. NaN below 10 values or where the mean is not above zero.
func Variation(t, p []float64) float64 {
	n, mt, mp := 0.0, 0.0, 0.0
	for i := range p {
		if !math.IsNaN(p[i]) {
			n, mt, mp = n+1, mt+t[i], mp+p[i]
		}
	}
	mt, mp = mt/n, mp/n
	if !(n >= 10 && mp > 0) {
		return math.NaN()
	}
	tt, tp, pp := 0.0, 0.0, 0.0
	for i := range p {
		if u, v := t[i]-mt, p[i]-mp; !math.IsNaN(p[i]) {
			tt, tp, pp = tt+u*u, tp+u*v, pp+v*v
		}
	}
	if tt > 0 {
		pp -= tp * tp / tt
	}
	return math.Sqrt(max(pp, 0)/(n-2)) / mp
}

// surge adds the surge indicator where the compressor's outlet (else manifold) pressure is logged fast enough, and suspects surge.
func (w *work) surge() {
	_, name := w.of("compressor_out_kpa", "map_kpa")
	rpm, _ := w.of("engine_speed_rpm")
	if name == "" || !rpm.known() || w.period > 1.01/surgeRate {
		return
	}
	p := w.Column(name)
	if own := ownPeriod(w.T, p); own == 0 || own > 1.5/surgeRate { // Noise that is held now and then still is at that rate.
		return
	}
	out := schema.Missing(w.Len())
	var steady []float64
	for at := 0.0; at <= w.T[w.Len()-1]; at += surgeTick {
		from, to := stats.Lower(w.T, at-surgeWindow/2), stats.Lower(w.T, at+surgeWindow/2)
		if float64(to-from) < 0.9*surgeWindow/w.period || !w.still(from, to) {
			continue
		}
		v := Variation(w.T[from:to], p[from:to])
		for i := stats.Lower(w.T, at-surgeTick/2); i < to && w.T[i] < at+surgeTick/2; i++ {
			out[i] = v
		}
		steady = append(steady, v)
	}
	if len(stats.Present(steady)) == 0 {
		return
	}
	w.Set("surge_cov_frac", out)
	w.suspectSurge(out, name, stats.Median(steady))
}

// still reports whether engine speed and pedal keep within a band in rows from to to.
func (w *work) still(from, to int) bool {
	within := func(name string, band func(low, high float64) bool) bool {
		x := w.Column(name)
		if x == nil {
			return true
		}
		low, high := math.Inf(1), math.Inf(-1)
		for _, v := range x[from:to] {
			if !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
		return low > high || band(low, high)
	}
	return within("engine_speed_rpm", func(low, high float64) bool { return low > MinEngineSpeed && high-low <= surgeSteady*high }) &&
		within("pedal_pct", func(low, high float64) bool { return high-low <= surgePedal })
}

func (w *work) suspectSurge(cov []float64, name string, usual float64) {
	limit := max(surgeLeast, surgeTimes*usual)
	most, t0, t1, n := 0.0, math.NaN(), math.NaN(), 0
	for i, v := range cov {
		if v >= limit {
			if n++; n == 1 {
				t0 = w.T[i]
			}
			most, t1 = max(most, v), w.T[i]
		}
	}
	if n == 0 {
		return
	}
	w.find(schema.Doubt, "surge_suspected", "surge_cov_frac", fmt.Sprintf("%s varies by up to %.1f %% within a second at steady engine speed and pedal, where it usually varies by %.2f %%: listen for compressor surge before more boost is asked for at this flow; "+
		"no figure for its onset is published", name, 100*most, 100*usual), most, "1")
	last := &w.findings[len(w.findings)-1]
	last.T0S, last.T1S = t0, t1
}
