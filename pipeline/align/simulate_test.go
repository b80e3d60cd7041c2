package align

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"
	"time"

	"dynolake/schema"
)

// session is an invented engine speed over time: idling, pulls of unlike length, part-load steps.
type session struct{ t, v []float64 }

func (s session) at(x float64) float64 {
	k := sort.SearchFloat64s(s.t, x)
	switch {
	case k == 0:
		return s.v[0]
	case k == len(s.t):
		return s.v[k-1]
	}
	w := (x - s.t[k-1]) / (s.t[k] - s.t[k-1])
	return s.v[k-1] + w*(s.v[k]-s.v[k-1])
}

func invent(r *rand.Rand, seconds float64) session {
	s := session{t: []float64{0}, v: []float64{780}}
	at, go_ := 0.0, func(dt, v float64) { s.t, s.v = append(s.t, s.t[len(s.t)-1]+dt), append(s.v, v) }
	for at < seconds {
		switch r.IntN(3) {
		case 0: // A pull.
			from := 1300 + 300*r.Float64()
			go_(1+r.Float64(), from)
			go_(1+2*r.Float64(), from)
			go_(6+4*r.Float64(), 3300+400*r.Float64())
			go_(3+2*r.Float64(), 900)
			go_(1, 780)
		case 1: // Idling.
			go_(5+20*r.Float64(), 770+20*r.Float64())
		default: // Steps of part load.
			for range 2 + r.IntN(3) {
				v := 1200 + 1500*r.Float64()
				go_(1.5+r.Float64(), v)
				go_(3+8*r.Float64(), v+20*r.Float64())
			}
		}
		at = s.t[len(s.t)-1]
	}
	return s
}

// recorder is how a session is written down.
type recorder struct {
	from, to float64 // Of true time, seconds.
	rate     float64 // Rows a second.
	quantum  float64 // rpm.
	noise    float64 // rpm, standard deviation.
	jitter   float64 // Seconds by which a poll's stamp is off, at most.
	hold     float64 // Seconds for which a value is repeated before the next is taken.
	smooth   float64 // Time constant of a filter, seconds.
	gain     float64 // What it reads for 1; 0 is 1.
	gaps     bool    // Every twentieth second is missing.
	spikes   float64 // The share of its values that are 0, or two and a half times what they should be.
	shift    float64 // True time is the recorder's plus this at its beginning,
	drift    float64 // and this more for each of its seconds.
}

func (c recorder) log(s session, r *rand.Rand, name string) schema.Log {
	var t, v []float64
	for i := 0; ; i++ {
		x := c.from + float64(i)/c.rate
		if x > c.to {
			break
		}
		n := c.reading(s, x) + c.noise*r.NormFloat64()
		if c.gaps && math.Mod(x, 20) < 1 {
			n = math.NaN()
		}
		if c.spikes > 0 && r.Float64() < c.spikes {
			n *= 2.5 * float64(r.IntN(2))
		}
		if c.quantum > 0 {
			n = math.Round(n/c.quantum) * c.quantum
		}
		own0 := c.from - c.shift
		t = append(t, own0+(x-c.from)/(1+c.drift)+c.jitter*r.Float64())
		v = append(v, n)
	}
	sort.Float64s(t)
	return schema.Log{Source: name, Series: []schema.Series{series(t, v)}}
}

// reading is what the recorder sees at a time.
func (c recorder) reading(s session, x float64) float64 {
	if c.hold > 0 {
		x = math.Floor(x/c.hold) * c.hold
	}
	v := s.at(x)
	if c.smooth > 0 { // The filter's answer, by its weights over five time constants.
		sum, all := 0.0, 0.0
		for k := range 50 {
			w := math.Exp(-float64(k) / 10)
			sum, all = sum+w*s.at(x-c.smooth*float64(k)/10), all+w
		}
		v = sum / all
	}
	if c.gain > 0 {
		v *= c.gain
	}
	return v
}

type simulated struct {
	seconds float64
	a, b    recorder
	lag     float64 // The largest error of a placed time anywhere in the log, seconds.
	ppm     float64 // The largest error of the drift, ppm.
	told    bool    // The drift must be found.
}

func simulations() map[string]simulated {
	base := func(seconds float64) simulated {
		return simulated{seconds: seconds, a: recorder{to: seconds, rate: 20, quantum: 1, noise: 3}, b: recorder{from: 5, to: seconds - 3, rate: 10, quantum: 0.25, noise: 5, shift: 3.217}, lag: 0.02, ppm: 15}
	}
	cases := map[string]simulated{}
	add := func(name string, seconds float64, set func(*simulated)) {
		c := base(seconds)
		set(&c)
		cases[name] = c
	}
	add("no drift, one minute", 60, func(c *simulated) { c.lag = 0.03 })
	add("no drift, ten minutes", 600, func(c *simulated) {})
	for name, ppm := range map[string]float64{"+50": 50, "-50": -50, "+200": 200, "-200": -200, "+1000": 1000, "-1000": -1000} {
		if math.Abs(ppm) != 200 {
			add(name+" ppm, an hour", 3600, func(c *simulated) { c.b.drift, c.told = ppm*1e-6, true })
		}
		add(name+" ppm, ten minutes", 600, func(c *simulated) { c.b.drift, c.ppm, c.told = ppm*1e-6, 60, math.Abs(ppm) >= 200; c.lag = 0.03 })
	}
	add("1 Hz beside 20 Hz", 900, func(c *simulated) { c.b.rate, c.lag, c.ppm = 1, 0.06, 150 })
	add("1 Hz beside 100 Hz, 200 ppm, an hour", 3600, func(c *simulated) {
		c.a.rate, c.b.rate, c.b.drift, c.told, c.lag, c.ppm = 100, 1, 2e-4, true, 0.06, 40
	})
	add("100 Hz recorder beside 2 Hz reference", 600, func(c *simulated) { c.a.rate, c.b.rate, c.lag, c.ppm = 2, 100, 0.05, 100 })
	add("both at 1 Hz", 1200, func(c *simulated) { c.a.rate, c.b.rate, c.lag, c.ppm = 1, 1, 0.15, 200 })
	add("coarse speed, noise, jitter", 600, func(c *simulated) { c.b.quantum, c.b.noise, c.b.jitter, c.lag, c.ppm = 50, 25, 0.08, 0.08, 100 }) // The stamps are late by 0.04 s on average.
	add("starts late", 300, func(c *simulated) { c.b.from, c.b.shift, c.lag, c.ppm = 190, 190, 0.05, 300 })
	add("shares a third", 400, func(c *simulated) { c.a.to, c.b.from, c.lag, c.ppm = 260, 190, 0.05, 300 })
	add("a filter of 0.3 s", 120, func(c *simulated) { c.a.smooth, c.lag = 0.3, 0.35 })          // Which a lag of 0.3 s is,
	add("values held for half a second", 120, func(c *simulated) { c.b.hold, c.lag = 0.5, 0.3 }) // and one of a quarter.
	add("a tyre that slips", 300, func(c *simulated) { c.b.gain, c.b.rate, c.b.quantum, c.lag, c.ppm = 1.03, 1, 20, 0.15, 500 })
	add("spikes in both", 300, func(c *simulated) { c.a.spikes, c.b.spikes, c.lag, c.ppm = 0.004, 0.004, 0.03, 60 })
	add("values missing", 300, func(c *simulated) { c.a.gaps, c.b.gaps, c.lag, c.ppm = true, true, 0.02, 30 })
	return cases
}

// Every recorder is placed within its bound all over its log, or not at all; a drift that is told is within its bound too. The
// bounds are a fraction of the slower recorder's step, common practice for correlation peaks, no source.
func TestSimulatedRecorders(t *testing.T) {
	for name, c := range simulations() {
		t.Run(name, func(t *testing.T) {
			seeds := 3
			if c.seconds > 1000 {
				seeds = 1
			}
			placed, worst, worstPPM := 0, 0.0, 0.0
			for seed := range uint64(seeds) {
				r := rand.New(rand.NewPCG(seed, 7))
				s := invent(r, c.seconds)
				logs := []schema.Log{c.a.log(s, r, "dyno.csv"), c.b.log(s, r, "scan.csv")}
				ref := 0
				if len(logs[1].Series[0].T) > len(logs[0].Series[0].T) {
					ref = 1
				}
				places, found := Place(logs, speedClaims(), time.UTC)
				if !places[0].Placed || !places[1].Placed {
					t.Logf("seed %d: %s", seed, found[len(found)-1].Text)
					continue
				}
				placed++
				off, ppm := c.errors(logs, places, ref)
				worst, worstPPM = math.Max(worst, off), math.Max(worstPPM, ppm)
				if drift := math.Max(math.Abs(places[0].Drift), math.Abs(places[1].Drift)); c.told && drift == 0 {
					t.Errorf("seed %d: no drift told: %s", seed, found[0].Text)
				}
			}
			t.Logf("%d of %d placed, times within %.4f s, drift within %.1f ppm", placed, seeds, worst, worstPPM)
			if placed < seeds || worst > c.lag || worstPPM > c.ppm {
				t.Errorf("want all placed, within %.3f s and %.0f ppm", c.lag, c.ppm)
			}
		})
	}
}

// errors gives the largest error of the recorder's times on the reference's clock and that of the drift, ppm.
func (c simulated) errors(logs []schema.Log, places []Placement, ref int) (off, ppm float64) {
	truth := func(k recorder, own float64) float64 { return k.from + (own-(k.from-k.shift))*(1+k.drift) }
	tb := logs[1].Series[0].T
	for _, own := range []float64{tb[0], tb[len(tb)/2], tb[len(tb)-1]} {
		want := truth(c.b, own) // The first recorder's own times are the true ones.
		got := places[1].Time(own)
		if ref == 1 {
			got = places[0].Own(own)
		}
		off = math.Max(off, math.Abs(got-want))
	}
	drift := places[1].Drift
	if ref == 1 {
		drift = -places[0].Drift
	}
	return off, 1e6 * math.Abs(drift-c.b.drift)
}

// One pull of half a minute, as most logs of a dyno are: at 1 to 10 Hz beside 50 Hz it is placed within a tenth of the slower step.
func TestShortPullIsPlaced(t *testing.T) {
	for _, rate := range []float64{1, 2, 4, 10} {
		for seed := range uint64(5) {
			r := rand.New(rand.NewPCG(seed, 5))
			s := pull(6+3*r.Float64(), 6+4*r.Float64(), 3+2*r.Float64())
			end := s.t[len(s.t)-1]
			logs := []schema.Log{recorder{to: end, rate: 50, quantum: 1, noise: 4}.log(s, r, "dyno.csv"), recorder{from: 1, to: end - 2, rate: rate, quantum: 0.25, noise: 4, shift: -7.3}.log(s, r, "scan.csv")}
			places, found := Place(logs, speedClaims(), time.UTC)
			if !places[1].Placed || math.Abs(places[1].Shift+7.3) > 0.1/rate {
				t.Errorf("%v Hz, seed %d: %+v, want a shift of -7.3: %s", rate, seed, places[1], found[0].Text)
			}
		}
	}
}
