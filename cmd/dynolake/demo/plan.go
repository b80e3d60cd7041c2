package demo

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// plan is one run to be driven.
type plan struct {
	v      *vehicle
	step   int
	kind   string // sweep, steps, road, coast or other, a regeneration.
	n      int    // Counts the vehicle's runs of this kind and calibration.
	start  time.Time
	day    day
	pedals []float64
	gains  []float64 // Of each pull, 1 for none; the truth leaves them out.
	part   int       // Above 0: the recorder of the run before began anew.
	of     string    // That run's name.
}

func (p plan) calibration() step { return p.v.steps[p.step] }

func (p plan) name() string {
	return fmt.Sprintf("%s-%s-%s-%d", p.v.id, p.calibration().name, p.kind, p.n)
}

// rng gives a stream of its own to everything with a name, so that one more run changes no other.
func (m Model) rng(name string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(name)) // A hash never fails.
	return rand.New(rand.NewPCG(m.Seed, h.Sum64()))
}

// bounded is a normal deviate cut off at two sigmas.
func bounded(r *rand.Rand, sigma float64) float64 { return sigma * clamp(r.NormFloat64(), -2, 2) }

// plans is the schedule: each calibration of each vehicle has a visit of two weeks, six weeks apart.
func (m Model) plans() []plan { return m.repeats(0, m.Scale) }

// repeats is the schedule of the visits' repeats from one to before another.
func (m Model) repeats(from, to int) []plan {
	var all []plan
	sets := map[int][]*vehicle{}
	for repeat := from; repeat < to; repeat++ {
		set := m.set(repeat)
		if sets[set] == nil {
			sets[set] = m.fleet(set)
		}
		for i, v := range sets[set] {
			for step := range v.steps {
				all = append(all, m.visit(v, i, step, repeat)...)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b plan) int {
		return cmp.Or(a.start.Compare(b.start), cmp.Compare(a.v.id, b.v.id))
	})
	return all
}

// visit is what is driven with one calibration.
func (m Model) visit(v *vehicle, place, step, repeat int) []plan {
	first := time.Date(2025, 1, 13, 8, 0, 0, 0, time.UTC).AddDate(0, 0, 42*step+2*place+repeat%40)
	var out []plan
	pulls := 3
	add := func(kind string, days, minute, part int, pedals ...float64) {
		n := 1 + 8*repeat
		for _, p := range out {
			if p.kind == kind {
				n++
			}
		}
		start := first.AddDate(0, 0, days).Add(time.Duration(minute+7*place+2*step+95*(repeat/40)) * time.Minute)
		p := plan{v: v, step: step, kind: kind, n: n, start: start, part: part, pedals: pedals}
		p.day = m.weather(v, start)
		r := m.rng(p.name() + "/pulls")
		for range pulls {
			p.gains = append(p.gains, 1+bounded(r, 0.005))
		}
		if part > 0 {
			p.of = out[len(out)-1].name()
		}
		out = append(out, p)
	}
	add("sweep", 0, 60, 0)
	if v.like == "invented-car-b" && step == 0 || v.like == "invented-van-c" && step == 2 {
		add("sweep", 0, 62, 1) // The recorder began anew within the file of the first.
	}
	add("sweep", 9, 180, 0)
	switch {
	case v.drive.automatic && step%2 == 0:
		add("road", 4, 120, 0, 25, 65, 100)
	case v.drive.automatic:
		add("road", 4, 120, 0, 45, 75, 100)
	case step > 1:
		add("road", 4, 120, 0)
	}
	if v.drive.automatic && step == place%4 {
		add("steps", 9, 300, 0)
	}
	if step == 1 {
		add("coast", 5, 240, 0)
	}
	if v.like == watched && step < 3 {
		pulls = 1
		for i, days := range [...]int{16, 23, 30, 37} {
			add("sweep", days, 201+22*i, 0)
		}
		if days := [...]int{-1, 9, 33}[step]; days > 0 { // The days on which its filter is full.
			add("other", days, [...]int{0, 425, 65}[step], 0)
		}
	}
	return out
}

// watched is the make-up that comes by every week for one pull, so that its filter can be seen to load up.
const watched = "invented-truck-f"

// weather is one day's air and what the filter holds.
func (m Model) weather(v *vehicle, at time.Time) day {
	date := at.Format("2006-01-02")
	r := m.rng("weather/" + date)
	season := math.Sin(2 * math.Pi * (float64(at.YearDay()) - 110) / 365)
	return day{
		baro:     math.Round((99.2+bounded(r, 0.7))*100) / 100,
		ambient:  math.Round((20+3*season+bounded(r, 1.2))*10) / 10,
		humidity: math.Round(48 + bounded(r, 8)),
		soot:     v.exhaust.soot(at),
	}
}

// soot is what the filter holds at a time, g: it grows by the day. When it is full it is burnt off within hours.
func (e exhaust) soot(at time.Time) float64 {
	low := e.rest()
	days := at.Sub(time.Date(2024, 12, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24
	grown := math.Mod(e.daily*days+0.37*e.full, e.full-low)
	if grown < e.daily*burnWithin {
		return e.full
	}
	return low + grown
}

// burnWithin is how many days pass between a full filter and the end of its regeneration.
const burnWithin = 0.25

// rest is what a regeneration leaves, g.
func (e exhaust) rest() float64 { return 0.1 * e.full }
