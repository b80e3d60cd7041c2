package stats

import (
	"math"
	"testing"
)

// A score and the t it is made of are each other's inverse, and the score of a t is near the normal deviate of its probability.
func TestScore(t *testing.T) {
	for _, df := range []float64{1, 1.7, 4, 12, 90} {
		for _, v := range []float64{0.3, 2, 9} {
			if got := unscore(score(v*v, df), df); math.Abs(got-v) > 1e-9 {
				t.Errorf("t %v with %v degrees comes back as %v", v, df, got)
			}
		}
	}
	if got := score(2.228139*2.228139, 10); math.Abs(got-1.959964) > 0.002 {
		t.Errorf("the score of t 0.975 is %v", got)
	}
	if got := (Sample{N: 4, Mean: 7, SD: 2}).Next().SE; math.Abs(got-2*math.Sqrt(1.25)) > 1e-12 {
		t.Errorf("one more value errs by %v", got)
	}
}

// The window of the filter holds both its ends.
func TestHampelEnds(t *testing.T) {
	at, x := []float64{0, 1, 2, 3, 4}, []float64{1, 2, 90, 3, 4}
	if clean, off := Hampel(at, x, 2, 3); len(off) != 1 || clean[2] != 3 {
		t.Errorf("got %v at %v", clean, off)
	}
}
