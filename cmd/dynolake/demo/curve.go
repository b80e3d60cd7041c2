package demo

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// curve is a function of engine speed held as even steps, so that a look-up costs an index and a product.
type curve struct {
	lo, step float64
	y        []float64
}

// newCurve draws a shape-keeping cubic through the knots (rising x) and samples it every step. Outside the knots the end values hold.
func newCurve(step float64, x, y []float64) curve {
	var f interp.FritschButland
	if err := f.Fit(x, y); err != nil {
		panic(fmt.Sprintf("fit an invented curve: %v", err)) // The knots are constants of this package.
	}
	n := int(math.Ceil((x[len(x)-1]-x[0])/step)) + 1
	c := curve{lo: x[0], step: step, y: make([]float64, n)}
	for i := range c.y {
		c.y[i] = f.Predict(min(x[0]+float64(i)*step, x[len(x)-1]))
	}
	return c
}

func (c curve) at(x float64) float64 {
	u := (x - c.lo) / c.step
	if u <= 0 {
		return c.y[0]
	}
	i := int(u)
	if i >= len(c.y)-1 {
		return c.y[len(c.y)-1]
	}
	u -= float64(i)
	return c.y[i]*(1-u) + c.y[i+1]*u
}

// times gives the curve with each value multiplied.
func (c curve) times(factor float64) curve {
	y := make([]float64, len(c.y))
	for i, v := range c.y {
		y[i] = factor * v
	}
	return curve{lo: c.lo, step: c.step, y: y}
}

// smoothMax is max(a, b) with its corner rounded over a width w.
func smoothMax(a, b, w float64) float64 {
	d := a - b
	return 0.5 * (a + b + math.Sqrt(d*d+w*w))
}

func clamp(x, lo, hi float64) float64 { return max(lo, min(hi, x)) }

// ease goes from 0 to 1 as u does, without a corner at either end.
func ease(u float64) float64 {
	u = clamp(u, 0, 1)
	return u * u * (3 - 2*u)
}
