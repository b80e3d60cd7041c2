package stats

import "math"

// Line is a straight line fitted by least squares, y = Intercept + Slope·x, and what it says of other x. Errors of y are taken as
// independent and of one spread.
type Line struct {
	Intercept, Slope Estimate
	SD               float64 // Of the residuals, with the degrees of freedom.
	SSE              float64 // Sum of the squared residuals.
	R2, F            float64 // Through the origin R2 is about 0, not about the mean.
	N                int
	DF               float64

	x, sxx float64 // Mean of x and sum of squares about it; through the origin 0 and the sum of squares.
	free   bool    // With an intercept.
}

// FitLine fits a line to the points of which both values are present. NaN for fewer than two different x; no errors (NaN) for two
// points. At least three points for errors. Source of the checks: NIST StRD, Norris.
func FitLine(x, y []float64) Line {
	l := Line{free: true}
	var sy float64
	for i := range min(len(x), len(y)) {
		if !math.IsNaN(x[i] + y[i]) {
			l.N, l.x, sy = l.N+1, l.x+x[i], sy+y[i]
		}
	}
	l.x, sy = l.x/float64(l.N), sy/float64(l.N)
	l.fit(x, y, sy)
	a := math.Sqrt(1/float64(l.N) + l.x*l.x/l.sxx)
	l.Intercept = Estimate{Value: sy - l.Slope.Value*l.x, SE: l.SD * a, DF: l.DF}
	return l
}

// FitProportional fits y = Slope·x. NIST StRD NoInt1 and NoInt2 check it.
func FitProportional(x, y []float64) Line {
	l := Line{}
	for i := range min(len(x), len(y)) {
		if !math.IsNaN(x[i] + y[i]) {
			l.N++
		}
	}
	l.fit(x, y, 0)
	l.Intercept = Estimate{DF: l.DF}
	return l
}

// fit is the slope about the point l.x, y0, with the residuals' spread.
func (l *Line) fit(x, y []float64, y0 float64) {
	var sxy, syy float64
	for i := range min(len(x), len(y)) {
		if dx, dy := x[i]-l.x, y[i]-y0; !math.IsNaN(dx + dy) {
			l.sxx, sxy, syy = l.sxx+dx*dx, sxy+dx*dy, syy+dy*dy
		}
	}
	if l.sxx == 0 {
		l.sxx = math.NaN()
	}
	slope := sxy / l.sxx
	for i := range min(len(x), len(y)) {
		if r := y[i] - y0 - slope*(x[i]-l.x); !math.IsNaN(r) {
			l.SSE += r * r
		}
	}
	l.DF = float64(l.N - 1)
	if l.free {
		l.DF--
	}
	l.SD = math.NaN()
	if l.DF > 0 {
		l.SD = math.Sqrt(l.SSE / l.DF)
	}
	l.Slope = Estimate{Value: slope, SE: l.SD / math.Sqrt(l.sxx), DF: l.DF}
	l.R2, l.F = 1-l.SSE/syy, (syy-l.SSE)/(l.SD*l.SD)
}

// At is the line's own height at x: its interval covers the mean of many y there.
func (l Line) At(x float64) Estimate { return l.at(x, 0) }

// Next is one more y at x: its interval is a prediction interval.
func (l Line) Next(x float64) Estimate { return l.at(x, 1) }

func (l Line) at(x, own float64) Estimate {
	v := own + (x-l.x)*(x-l.x)/l.sxx
	if l.free {
		v += 1 / float64(l.N)
	}
	return Estimate{Value: l.Intercept.Value + l.Slope.Value*x, SE: l.SD * math.Sqrt(v), DF: l.DF}
}
