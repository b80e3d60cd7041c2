package derive

import (
	"fmt"
	"math"

	"dynolake/derive/stats"
	"dynolake/schema"
)

// Regeneration as a state (common practice, no source, unless said).
const (
	regenOn    = 0.5   // Of regen_frac: it begins here,
	regenOff   = 0.25  // and ends below this.
	regenRest  = 2.0   // s. A shorter break is flicker of the flag.
	regenLeast = 1.0   // s. A shorter flag is none.
	burnOn     = 550.0 // °C before the filter: soot burns in oxygen from about here.
	burnOff    = 450.0
	burnRest   = 10.0 // s.
	burnLeast  = 60.0 // s. A full-load pull is hot too, but not for so long.
	burnGain   = 60.0 // K from the turbine to the filter: fuel burns on the way, in a catalyst or a burner.
	sootShare  = 0.10 // Of the soot, and
	sootGrams  = 1.0  // g, that it falls by.
)

// Regenerating gives 1 where a filter regenerates and 0 where it does not, from a flag of 0 to 1 at times in s: on from 0.5, off below 0.25, breaks under
// 2 s bridged and stays under 1 s left out. NaN where the flag is, outside a stay.
func Regenerating(t, flag []float64) []float64 {
	return state(t, flag, stats.Hysteresis(flag, regenOn, regenOff), regenRest, regenLeast)
}

// state writes spans, joined over short breaks and without short ones, as 0 and 1.
func state(t, x []float64, spans []stats.Span, rest, least float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		if out[i] = 0; math.IsNaN(v) {
			out[i] = math.NaN()
		}
	}
	for _, s := range stays(t, spans, rest, least) {
		for i := s.From; i < s.To; i++ {
			out[i] = 1
		}
	}
	return out
}

// stays joins spans that are at most rest seconds apart and keeps those of least seconds.
func stays(t []float64, spans []stats.Span, rest, least float64) []stats.Span {
	var joined, out []stats.Span
	for _, s := range spans {
		if n := len(joined); n > 0 && t[s.From]-t[joined[n-1].To-1] <= rest {
			joined[n-1].To = s.To
			continue
		}
		joined = append(joined, s)
	}
	for _, s := range joined {
		if t[s.To-1]-t[s.From] >= least {
			out = append(out, s)
		}
	}
	return out
}

// regen adds the state of the particulate filter's regeneration: as its flag has it, else from heat that lasts together with fuel burning before the
// filter or soot going away.
func (w *work) regen() {
	if w.Has("regen_frac") {
		w.Set("regen_active_frac", Regenerating(w.T, w.Column("regen_frac")))
		return
	}
	_, name := w.of("dpf_in_c", "turbine_out_c")
	if name == "" || name == "turbine_out_c" && !w.Has("soot_g") {
		return
	}
	heat := w.Column(name)
	var burning []stats.Span
	for _, s := range stays(w.T, stats.Hysteresis(heat, burnOn, burnOff), burnRest, burnLeast) {
		why := w.burns(s, name)
		if why == "" {
			continue
		}
		burning = append(burning, s)
		w.find(schema.Note, "regen_inferred", "regen_active_frac", fmt.Sprintf("no regeneration flag was logged: it is taken to regenerate for %.0f s, in which %s stays hot (from %g °C on, to %g °C off) and %s",
			w.T[s.To-1]-w.T[s.From], name, burnOn, burnOff, why), w.T[s.To-1]-w.T[s.From], "s")
		last := &w.findings[len(w.findings)-1]
		last.T0S, last.T1S = w.T[s.From], w.T[s.To-1]
	}
	if w.Has("soot_g") || w.Has("turbine_out_c") && name == "dpf_in_c" {
		w.Set("regen_active_frac", state(w.T, heat, burning, 0, 0))
	}
}

// burns is the evidence that a hot stretch is a regeneration; empty without any.
func (w *work) burns(s stats.Span, name string) string {
	if soot := stats.Present(w.Column("soot_g")[min(s.From, len(w.Column("soot_g"))):min(s.To, len(w.Column("soot_g")))]); len(soot) > 1 {
		if first, last := soot[0], soot[len(soot)-1]; first-last >= max(sootGrams, sootShare*first) {
			return fmt.Sprintf("soot_g falls from %.3g to %.3g g", first, last)
		}
	}
	if before := w.Column("turbine_out_c"); before != nil && name == "dpf_in_c" {
		gain := make([]float64, 0, s.Len())
		for i := s.From; i < s.To; i++ {
			gain = append(gain, w.Column(name)[i]-before[i])
		}
		if m := stats.Median(gain); m >= burnGain {
			return fmt.Sprintf("is %.0f K above turbine_out_c", m)
		}
	}
	return ""
}
