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

// Kelvin is a thermodynamic temperature; temperatures are stored in °C.
type Kelvin float64

// Celsius brings a stored temperature into K; NaN at or below absolute zero.
func Celsius(c float64) Kelvin {
	if !(c > -273.15) {
		return Kelvin(math.NaN())
	}
	return Kelvin(c + 273.15)
}

// KgPerS is a mass flow in kg/s; flows are stored in kg/h.
type KgPerS float64

// KGH brings a stored mass flow into kg/s.
func KGH(v float64) KgPerS { return KgPerS(v / 3600) }

// KGH gives the flow as it is stored, kg/h.
func (m KgPerS) KGH() float64 { return float64(m) * 3600 }
