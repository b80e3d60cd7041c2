package align

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"dynolake/schema"
)

func claim(log int, column string) schema.Claim {
	return schema.Claim{Log: log, Column: column, Scale: 1, Confidence: 1}
}

// The third recorder shares road speed with the second alone: it is placed by way of it, shifts and drifts added up.
func TestPlaceByWayOfAnother(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	s, road := invent(r, 600), invent(r, 600)
	dyno := recorder{to: 600, rate: 50, noise: 2}.log(s, r, "dyno.csv")
	scan := recorder{to: 600, rate: 10, noise: 2, shift: 4}
	both, gps := scan.log(s, r, "scan.csv"), recorder{to: 600, rate: 5, noise: 2, shift: -30, drift: 8e-4}.log(road, r, "gps.csv")
	speed := scan.log(road, r, "")
	both.Series = append(both.Series, speed.Series[0])
	logs := []schema.Log{dyno, both, gps}
	claims := []schema.Claim{claim(0, "engine_speed_rpm"), claim(1, "engine_speed_rpm"), claim(1, "vehicle_speed_kmh"), claim(2, "vehicle_speed_kmh")}
	claims[2].Series = 1
	places, found := Place(logs, claims, time.UTC)
	if !places[2].Placed {
		t.Fatalf("not placed: %v", found)
	}
	own := gps.Series[0].T
	for _, k := range []int{0, len(own) / 2, len(own) - 1} {
		want := own[0] - 30 + (own[k]-own[0])*(1+8e-4)
		if got := places[2].Time(own[k]); math.Abs(got-want) > 0.05 {
			t.Errorf("row %d lies at %.3f s, want %.3f", k, got, want)
		}
	}
	if got := codes(found); math.Abs(got["clock_drift"]-800) > 30 {
		t.Errorf("drift %v ppm, want 800 within 30", got["clock_drift"])
	}
}

// Four pulls that are the same leave the lag open; the recorders' dates and times decide where they are there, and where they
// are not the recorder is left.
func TestDatesDecideBetweenLikeLags(t *testing.T) {
	for name, c := range map[string]struct {
		dated, zoned bool
		code         string
	}{
		"no date": {code: "not_aligned"}, "a date, 1.3 s off": {dated: true, zoned: true, code: "aligned"}, "a date in the lake's zone": {dated: true, code: "aligned"},
	} {
		t.Run(name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(5, 5))
			s := session{t: []float64{0}, v: []float64{780}}
			for range 4 {
				p := pull(10, 8, 4)
				off := s.t[len(s.t)-1]
				for i := range p.t {
					s.t, s.v = append(s.t, off+p.t[i]+0.001), append(s.v, p.v[i])
				}
			}
			logs := []schema.Log{recorder{to: 150, rate: 20, noise: 3}.log(s, r, "dyno.csv"), recorder{from: 40, to: 110, rate: 10, noise: 3, shift: 40}.log(s, r, "scan.csv")}
			loc := time.FixedZone("", 7200)
			at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
			if c.dated {
				logs[0].Series[0].Clock = schema.Clock{Start: at, Zoned: true}
				begin := at.Add(41300 * time.Millisecond)
				if !c.zoned {
					begin = begin.Add(2 * time.Hour) // As a clock on the wall there shows it.
				}
				logs[1].Series[0].Clock = schema.Clock{Start: begin, Zoned: c.zoned}
			}
			places, found := Place(logs, speedClaims(), loc)
			if found[0].Code != c.code {
				t.Fatalf("found %s: %s; want %s", found[0].Code, found[0].Text, c.code)
			}
			if c.dated && (math.Abs(places[1].Shift-40) > 0.03 || !strings.Contains(found[0].Text, "dates and times decide")) {
				t.Errorf("shift %.3f, want 40: %s", places[1].Shift, found[0].Text)
			}
		})
	}
}

func TestPlaceByAbsoluteTimeAlone(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	logs := []schema.Log{recorder{to: 60, rate: 20}.log(invent(r, 60), r, "dyno.csv"), recorder{to: 60, rate: 5}.log(invent(r, 60), r, "probe.csv")}
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	logs[0].Series[0].Clock = schema.Clock{Start: at, Zoned: true}
	logs[1].Series[0].Clock = schema.Clock{Start: at.Add(7500 * time.Millisecond), Zoned: true}
	claims := []schema.Claim{claim(0, "engine_speed_rpm"), claim(1, "turbine_in_c")}
	places, found := Place(logs, claims, time.UTC)
	if !places[1].Placed || places[1].Shift != 7.5 || found[0].Code != "aligned_by_clock" || found[0].Severity != schema.Doubt {
		t.Errorf("placed %+v, %v; want 7.5 s by the clocks, doubted", places[1], found)
	}
	logs[1].Series[0].Clock.Start = at.Add(48 * time.Hour)
	if places, _ = Place(logs, claims, time.UTC); places[1].Placed {
		t.Errorf("two days apart: placed %+v, want a refusal", places[1])
	}
}

// A placement and its inverse, and one by way of another, against the plain arithmetic.
func TestPlacementArithmetic(t *testing.T) {
	p := Placement{Shift: 3, Drift: 1e-3, Pivot: 100, Placed: true}
	if got := p.Time(1100); got != 1104 {
		t.Errorf("Time %v, want 1104", got)
	}
	if got := p.Own(1104); math.Abs(got-1100) > 1e-9 {
		t.Errorf("Own %v, want 1100", got)
	}
	via := Placement{Shift: -5, Drift: -2e-3, Pivot: 0, Placed: true}
	if got, want := p.through(via).Time(1100), via.Time(1104); math.Abs(got-want) > 1e-9 {
		t.Errorf("through %v, want %v", got, want)
	}
}
