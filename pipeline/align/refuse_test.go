package align

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"dynolake/schema"
)

// pull is a session of one pull: idle, a ramp of the given length, down again.
func pull(before, ramp, down float64) session {
	s := session{t: []float64{0}, v: []float64{780}}
	next := func(dt, v float64) { s.t, s.v = append(s.t, s.t[len(s.t)-1]+dt), append(s.v, v) }
	next(before, 780)
	next(1.5, 1450)
	next(2, 1450)
	next(ramp, 3500)
	next(down, 800)
	next(12, 780)
	return s
}

// What must not be placed: each makes two logs that a plausible lag could be found for.
func unalike() map[string]func(r *rand.Rand) []schema.Log {
	a := recorder{to: 1e9, rate: 20, quantum: 1, noise: 3}
	b := recorder{to: 1e9, rate: 10, quantum: 0.25, noise: 5, shift: 3}
	take := func(c recorder, to float64) recorder { c.to = to; return c }
	two := func(r *rand.Rand, s1, s2 session) []schema.Log {
		end := func(s session) float64 { return s.t[len(s.t)-1] }
		return []schema.Log{take(a, end(s1)).log(s1, r, "dyno.csv"), take(b, end(s2)).log(s2, r, "scan.csv")}
	}
	flat := session{t: []float64{0, 300}, v: []float64{780, 780}}
	return map[string]func(r *rand.Rand) []schema.Log{
		"another session":       func(r *rand.Rand) []schema.Log { return two(r, invent(r, 300), invent(r, 300)) },
		"another short session": func(r *rand.Rand) []schema.Log { return two(r, invent(r, 60), invent(r, 60)) },
		"another long session":  func(r *rand.Rand) []schema.Log { return two(r, invent(r, 1000), invent(r, 1000)) },
		"a pull of another length": func(r *rand.Rand) []schema.Log {
			return two(r, pull(8, 8, 4), pull(5, 9.2, 4))
		},
		"a pull that coasts down otherwise": func(r *rand.Rand) []schema.Log {
			return two(r, pull(8, 8, 4), pull(5, 8, 6))
		},
		"standing still": func(r *rand.Rand) []schema.Log { return two(r, flat, flat) },
		"a hunting idle": func(r *rand.Rand) []schema.Log {
			s := session{}
			for i := range 3000 {
				s.t, s.v = append(s.t, float64(i)/10), append(s.v, 780+30*math.Sin(float64(i)/10*2*math.Pi/1.7))
			}
			return two(r, s, s)
		},
		"a clock that jumped": func(r *rand.Rand) []schema.Log {
			logs := two(r, invent(rand.New(rand.NewPCG(3, 3)), 300), invent(rand.New(rand.NewPCG(3, 3)), 300))
			t := logs[1].Series[0].T
			for i := len(t) * 45 / 100; i < len(t); i++ {
				t[i] -= 2.5 // The recorder began anew and its clock went on as if nothing had been.
			}
			return logs
		},
		"a clock that jumped far, late": func(r *rand.Rand) []schema.Log {
			logs := two(r, invent(rand.New(rand.NewPCG(3, 3)), 300), invent(rand.New(rand.NewPCG(3, 3)), 300))
			t := logs[1].Series[0].T
			for i := len(t) * 70 / 100; i < len(t); i++ {
				t[i] += 14
			}
			return logs
		},
		"one pull of four alike": func(r *rand.Rand) []schema.Log {
			s := session{t: []float64{0}, v: []float64{780}}
			for range 4 {
				p := pull(10, 8, 4)
				off := s.t[len(s.t)-1]
				for i := range p.t {
					s.t, s.v = append(s.t, off+p.t[i]+0.001), append(s.v, p.v[i])
				}
			}
			return two(r, s, pull(10, 8, 4))
		},
	}
}

func TestRefusesPlausibleLags(t *testing.T) {
	for name, make := range unalike() {
		t.Run(name, func(t *testing.T) {
			const seeds = 4
			wrong := 0
			for seed := range uint64(seeds) {
				logs := make(rand.New(rand.NewPCG(seed, 11)))
				if places, found := Place(logs, speedClaims(), time.UTC); places[0].Placed && places[1].Placed {
					wrong++
					t.Logf("seed %d: %s", seed, found[0].Text)
				} else if seed == 0 {
					t.Log(found[len(found)-1].Text)
				}
			}
			if wrong > 0 {
				t.Errorf("%d of %d were placed, want none", wrong, seeds)
			}
		})
	}
}
