package align

import (
	"math"

	"dynolake/schema"
)

// Placement is where a recorder's clock lies on the run's, which is the reference recorder's.
type Placement struct {
	Shift  float64 // Seconds added to the recorder's time at its Pivot.
	Drift  float64 // Seconds more for each second after it: the share by which the recorder's clock is slow.
	Pivot  float64 // The recorder's first time, seconds.
	Placed bool    // False: the recorder could not be placed and its channels stay in unmapped.
	R      float64 // Correlation there; 1 for the reference, NaN where absolute time decided.
	Sure   float64 // Confidence from 0 to 1: the share of what the next best lag leaves unexplained that this one explains.
}

// Time is the run's time of a recorder's time, seconds.
func (p Placement) Time(t float64) float64 { return t + p.Shift + p.Drift*(t-p.Pivot) }

// Times moves a recorder's clock onto the run's.
func (p Placement) Times(t []float64) []float64 {
	out := make([]float64, len(t))
	for i := range t {
		out[i] = p.Time(t[i])
	}
	return out
}

// Middle is what is added to the recorder's time in the middle of its log: the one shift that is least wrong all over.
func (p Placement) Middle(l schema.Log) float64 {
	if s := span(l); p.Drift != 0 && s[0] <= s[1] {
		return p.Shift + p.Drift*((s[0]+s[1])/2-p.Pivot)
	}
	return p.Shift
}

// Own is the recorder's own time of a time of the run, seconds.
func (p Placement) Own(t float64) float64 { return p.Pivot + (t-p.Shift-p.Pivot)/(1+p.Drift) }

// through places by way of another recorder: p is onto via's clock, via onto the run's.
func (p Placement) through(via Placement) Placement {
	at := p.Time(p.Pivot)
	return Placement{
		Shift:  via.Time(at) - p.Pivot,
		Drift:  (1+p.Drift)*(1+via.Drift) - 1,
		Pivot:  p.Pivot,
		Placed: p.Placed && via.Placed,
		R:      math.Min(p.R, via.R),
		Sure:   math.Min(p.Sure, via.Sure),
	}
}
