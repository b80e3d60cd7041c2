package derive

import "math"

// AbsKPa is an absolute pressure in kPa. It is no AbsKPa less another: that is a DiffKPa.
type AbsKPa float64

// DiffKPa is the difference of two pressures in kPa; a gauge pressure is one, to barometric.
type DiffKPa float64

// Less gives how far p is above q.
func (p AbsKPa) Less(q AbsKPa) DiffKPa { return DiffKPa(p - q) }

// Over gives the ratio of two absolute pressures; NaN unless both are above zero.
func (p AbsKPa) Over(q AbsKPa) float64 {
	if !(p > 0 && q > 0) {
		return math.NaN()
	}
	return float64(p / q)
}

// MPerS is a speed in m/s; speeds are stored in km/h.
type MPerS float64

// KMH brings a stored speed into m/s.
func KMH(v float64) MPerS { return MPerS(v / 3.6) }
