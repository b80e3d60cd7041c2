package stats

import "math"

// stick is a pull's points for two lines that meet, with room to work in.
type stick struct{ x, y, hinge, step []float64 }

func newStick(x, y []float64) stick {
	var s stick
	for i, v := range y {
		if i < len(x) && !math.IsNaN(v) {
			s.x, s.y = append(s.x, x[i]), append(s.y, v)
		}
	}
	s.hinge, s.step = make([]float64, len(s.x)), make([]float64, len(s.x))
	return s
}

// lay makes the hinge (x - at)₊ and the step at the place, each less what the ones before it explain: 1, x, hinge, step. It gives the
// two first columns' means and the slope of y on x.
func (s stick) lay(at float64) (mx, my, slope float64) {
	n := float64(len(s.x))
	for i := range s.x {
		mx, my = mx+s.x[i]/n, my+s.y[i]/n
	}
	var sxx, sxy, hx, tx, mh, mt float64
	for i, x := range s.x {
		s.hinge[i], s.step[i] = math.Max(0, x-at), 0
		if x > at {
			s.step[i] = 1
		}
		u := x - mx
		sxx, sxy, hx, tx = sxx+u*u, sxy+u*s.y[i], hx+u*s.hinge[i], tx+u*s.step[i]
		mh, mt = mh+s.hinge[i]/n, mt+s.step[i]/n
	}
	var hh, ht float64
	for i, x := range s.x {
		s.hinge[i] -= mh + hx/sxx*(x-mx)
		s.step[i] -= mt + tx/sxx*(x-mx)
		hh, ht = hh+s.hinge[i]*s.hinge[i], ht+s.hinge[i]*s.step[i]
	}
	for i := range s.x {
		s.step[i] -= ht / hh * s.hinge[i]
	}
	return mx, my, sxy / sxx
}

// misfit is the sum of squares about the two lines that meet at the place.
func (s stick) misfit(at float64) float64 {
	mx, my, slope := s.lay(at)
	bend, sum := s.bend(), 0.0
	for i, x := range s.x {
		r := s.y[i] - my - slope*(x-mx) - bend*s.hinge[i]
		sum += r * r
	}
	return sum
}

// bend is how much the slope changes, by the hinge as laid.
func (s stick) bend() float64 {
	var hh, hy float64
	for i, h := range s.hinge {
		hh, hy = hh+h*h, hy+h*s.y[i]
	}
	return hy / hh
}

// slip is Student's t over the pulls of the score: how y goes with a small move of the knee.
func slip(sticks []stick, at float64) float64 {
	var n, sum, square float64
	for _, s := range sticks {
		s.lay(at)
		var ss, sy float64
		for i, v := range s.step {
			ss, sy = ss+v*v, sy+v*s.y[i]
		}
		v := sy / math.Sqrt(ss)
		n, sum, square = n+1, sum+v, square+v*v
	}
	mean := sum / n
	return mean / math.Sqrt(max(0, square-n*mean*mean)/(n-1)/n)
}

// lines fills in the slopes on either side and whether there is a bend at all.
func (k *Knee) lines(sticks []stick) {
	below, bends := make([]float64, len(sticks)), make([]float64, len(sticks))
	for i, s := range sticks {
		_, _, slope := s.lay(k.At)
		bends[i] = s.bend()
		raw := 0.0 // What the hinge as it stands takes of the slope of y on x.
		n, mx := float64(len(s.x)), Mean(s.x)
		var sxx float64
		for _, x := range s.x {
			sxx, raw = sxx+(x-mx)*(x-mx), raw+(x-mx)*math.Max(0, x-k.At)
		}
		below[i] = slope - bends[i]*raw/sxx
		if len(sticks) == 1 && n > 4 {
			var hh float64
			for _, h := range s.hinge {
				hh += h * h
			}
			k.P = Estimate{bends[0], math.Sqrt(s.misfit(k.At) / (n - 4) / hh), n - 4}.P()
		}
	}
	k.Below = Mean(below)
	k.Above = k.Below + Mean(bends)
	if len(sticks) > 1 {
		k.P = Summary(bends).Estimate().P()
	}
}
