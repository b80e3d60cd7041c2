package schema

import "math"

// Accuracy is how far a sensor may read off, as its maker or a calibration states it. The parts add: Half + Share times the reading.
type Accuracy struct {
	Half     float64 // In the stored unit of the column.
	Share    float64 // Of the reading.
	Coverage float64 // The factor of an expanded uncertainty of a normal distribution; 0: bounds, any value between them as likely.
}

// Standard is the standard uncertainty of a reading: bounds are taken as a rectangular distribution, a/√3 (GUM, JCGM 100:2008, 4.3.7), an
// expanded uncertainty is divided by its coverage factor (4.3.3).
func (a Accuracy) Standard(reading float64) float64 {
	bound := a.Half + a.Share*math.Abs(reading)
	if a.Coverage > 0 {
		return bound / a.Coverage
	}
	return bound / math.Sqrt(3)
}
