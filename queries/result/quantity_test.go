package result

import (
	"math"
	"testing"
)

// Factors of NIST SP 811 app. B.8.
func TestConvert(t *testing.T) {
	for _, c := range []struct {
		x          float64
		unit       string
		difference bool
		system     Units
		want       float64
		name       string
	}{
		{100, "kPa", false, US, 14.5037738, "psi"},
		{100, "kW", false, US, 134.102209, "hp"},
		{100, "N·m", true, US, 73.7562149, "lb-ft"},
		{100, "°C", false, US, 212, "°F"},
		{100, "°C", true, US, 180, "°F"},
		{2, "1", false, US, 2, "1"},
		{2, "rpm", false, US, 2, "rpm"},
		{100, "kPa", false, Metric, 100, "kPa"},
		{5, "furlong", false, US, 5, "furlong"},
	} {
		if got, name := c.system.Convert(c.x, c.unit, c.difference); math.Abs(got-c.want) > 1e-6 || name != c.name {
			t.Errorf("Convert(%g %s) = %g %s, want %g %s", c.x, c.unit, got, name, c.want, c.name)
		}
	}
}
