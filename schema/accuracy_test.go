package schema

import (
	"math"
	"testing"
)

// Bounds of ±a are a/√3 (GUM 4.3.7), an expanded uncertainty U = k u is U/k (4.3.3); the parts add before.
func TestStandardUncertainty(t *testing.T) {
	for _, c := range []struct {
		a             Accuracy
		reading, want float64
	}{
		{Accuracy{Half: 1}, 250, 1 / math.Sqrt(3)}, {Accuracy{Share: 0.005}, 300, 1.5 / math.Sqrt(3)}, {Accuracy{Half: 1, Share: 0.005}, -300, 2.5 / math.Sqrt(3)},
		{Accuracy{Half: 2, Coverage: 2}, 250, 1}, {Accuracy{Share: 0.01, Coverage: 1}, 250, 2.5}, {Accuracy{}, 250, 0},
	} {
		if got := c.a.Standard(c.reading); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%+v at %v: %v, want %v", c.a, c.reading, got, c.want)
		}
	}
}
