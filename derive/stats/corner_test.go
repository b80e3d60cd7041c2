package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A course that breaks at 1 s keeps both of its slopes up to the break; a centred window would mix them.
func TestSlopeAtACorner(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var at, x []float64
	for i := range 200 {
		s := float64(i) / 100
		v := 10 * s
		if s > 1 {
			v = 10 - 4*(s-1)
		}
		at, x = append(at, s), append(x, v+0.01*rng.NormFloat64())
	}
	for i, want := range map[int]float64{50: 10, 95: 10, 99: 10, 102: -4, 110: -4, 150: -4} {
		if got := SlopeAt(at, x, at[i], 0.25); math.Abs(got-want) > 0.5 {
			t.Errorf("slope at %.2f s = %.3f, want %v", at[i], got, want)
		}
	}
	if _, mixed := Local(at, x, nil, 1, 0.25, 2); math.Abs(mixed-3) > 1 {
		t.Errorf("a centred parabola gives %.2f at the corner, expected about the mean of 10 and -4", mixed)
	}
}

// Without a corner the centred window stays, whatever the noise.
func TestSlopeAtStaysCentred(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var at, x []float64
	for i := range 4000 {
		at, x = append(at, float64(i)/100), append(x, rng.NormFloat64())
	}
	left := 0
	for i := 30; i < 3970; i++ {
		_, want := Local(at, x, nil, at[i], 0.25, 2)
		if SlopeAt(at, x, at[i], 0.25) != want {
			left++
		}
	}
	if left > 40 { // 0.1 % by design on each side; neighbours share their points.
		t.Errorf("noise alone left the centred window %d times of 3940", left)
	}
}
