package packs

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// onsetCase is a kind of shop whose ratio crosses the threshold at a power that is known.
type onsetCase struct {
	name      string
	car       car
	pulls     int
	threshold string
	truth     float64
	within    float64 // Largest median error of the shops, a share.
}

func varied(c car, change func(*car)) car {
	change(&c)
	return c
}

func onsetCases() []onsetCase {
	steep := varied(light(""), func(c *car) {
		c.ratio = func(kw float64) float64 { return 0.5 + 0.012*kw }
		c.lo = 1200
	})
	slow := varied(heavy(""), func(c *car) {
		c.ratio = func(kw float64) float64 { return 0.5 + 0.0024*kw }
	})
	spool := varied(light(""), func(c *car) { // Vanes nearly shut keep the ratio high before its minimum at 60 kW.
		c.ratio = func(kw float64) float64 { return 0.9 + 0.0006*square(math.Max(kw-60, 0)) + 0.03*math.Max(60-kw, 0) }
	})
	noisy := varied(steep, func(c *car) { c.noise, c.offset = 4, 0.02 })
	sparse := varied(steep, func(c *car) { c.rate = 4 })
	return []onsetCase{
		{"steep", steep, 5, "1.2", 0.7 / 0.012, 0.01},
		{"steep, two pulls", steep, 2, "1.2", 0.7 / 0.012, 0.015},
		{"steep, three pulls", steep, 3, "1.2", 0.7 / 0.012, 0.012},
		{"steep, noisy", noisy, 8, "1.2", 0.7 / 0.012, 0.02},
		{"steep, four rows a second", sparse, 6, "1.2", 0.7 / 0.012, 0.02},
		{"slowly through 1.0", slow, 8, "1.0", 0.5 / 0.0024, 0.02},
		{"curved, heavy", heavy(""), 5, "1.2", 150 + 180*math.Sqrt(0.4/1.1), 0.01},
		{"high spool-up", spool, 5, "1.2", 60 + math.Sqrt(0.3/0.0006), 0.01},
		{"near the top", slow, 6, "1.1", 0.6 / 0.0024, 0.02},
	}
}

// TestOnsetTruth holds the answer against shops of known truth: 40 of a kind, each with its own scatter.
func TestOnsetTruth(t *testing.T) {
	const shops = 40
	for i, k := range onsetCases() {
		t.Run(k.name, func(t *testing.T) {
			s := newShop(uint64(100 + i))
			s.only("wheel_power_kw", "net_drive_kpa", "drive_ratio", "drive_basis")
			for v := range shops {
				s.add(varied(k.car, func(c *car) { c.vehicle, c.pulls = fmt.Sprintf("v%03d", v), k.pulls }))
			}
			rows := answers(t, s.open(t), "drive/onset", map[string]string{"thresholds": k.threshold})
			if len(rows) != shops {
				t.Fatalf("got %d rows, want %d", len(rows), shops)
			}
			covered, sum, far, worst := 0, 0.0, 0, 0.0
			for _, r := range rows {
				x, ok := r["wheel_power_kw"].(float64)
				if !ok || r["n"] != int64(k.pulls) {
					t.Fatalf("no answer: %v", r)
				}
				e := x/k.truth - 1
				sum += e / shops
				worst = math.Max(worst, math.Abs(e))
				if math.Abs(e) > 0.03 {
					far++
				}
				lo, okLo := r["lo95"].(float64)
				hi, okHi := r["hi95"].(float64)
				if (!okLo || lo <= k.truth) && (!okHi || hi >= k.truth) { // An open end is no claim.
					covered++
				}
				if okLo && lo > x || okHi && hi < x {
					t.Errorf("the interval leaves its answer out: %v", r)
				}
			}
			t.Logf("mean error %+.4f, worst %.4f, %d beyond 3 %%, covered %d of %d", sum, worst, far, covered, shops)
			if math.Abs(sum) > k.within {
				t.Errorf("mean error is %+.4f, want at most %.3f", sum, k.within)
			}
			if covered < shops*88/100 {
				t.Errorf("the interval covers the truth in %d of %d shops, want about 95 %%", covered, shops)
			}
		})
	}
}

func TestOnsetNotes(t *testing.T) {
	s := newShop(7)
	flat := func(x float64) func(float64) float64 { return func(float64) float64 { return x } }
	s.add(varied(light("a single"), func(c *car) { c.pulls = 1 }))
	s.add(varied(light("b never"), func(c *car) { c.ratio = flat(0.8) }))
	s.add(varied(light("c always"), func(c *car) { c.ratio = func(kw float64) float64 { return 1.4 + 0.01*math.Abs(kw-80) } }))
	s.add(varied(light("d falls"), func(c *car) { c.ratio = func(kw float64) float64 { return 1.5 - 0.008*kw } }))
	s.add(varied(light("e no boost"), func(c *car) { c.boost = flat(20) }))
	got := map[string]map[string]any{}
	for _, r := range answers(t, s.open(t), "drive/onset", map[string]string{"thresholds": "1.2"}) {
		got[r["vehicle"].(string)] = r
	}
	if r := got["a single"]; r["wheel_power_kw"] == nil || r["lo95"] != nil || r["hi95"] != nil || r["note"] != "one pull: no interval" {
		t.Errorf("one pull: %v", r)
	}
	for _, v := range []string{"b never", "d falls"} {
		if r := got[v]; r["wheel_power_kw"] != nil || r["lo95"] != nil || r["hi95"] != nil || r["note"] != "not reached" || r["highest_power_kw"] == nil {
			t.Errorf("not reached: %v", r)
		}
	}
	if r := got["c always"]; r["wheel_power_kw"].(float64) > 50 || r["lo95"] != nil || !strings.Contains(r["note"].(string), "lowest") || r["spool_up_bins"].(int64) < 20 {
		t.Errorf("always above: %v", r)
	}
	if r := got["e no boost"]; r["wheel_power_kw"] != nil || r["highest_power_kw"] != nil || r["n"] != int64(0) || !strings.HasPrefix(r["note"].(string), "no drive ratio") {
		t.Errorf("a ratio where boost is too small: %v", r)
	}
}

// TestOnsetBadPull holds that a pull with a leaking sensor line does not move the answer far, yet stays counted.
func TestOnsetBadPull(t *testing.T) {
	s := newShop(8)
	for v := range 10 {
		s.add(varied(heavy(fmt.Sprint(v)), func(c *car) {
			c.tweak = func(pull int, at map[string]any) {
				if pull == 2 {
					at["factor"] = 0.7
				}
			}
		}))
	}
	truth := 150 + 180*math.Sqrt(0.2/1.1)
	for _, r := range answers(t, s.open(t), "drive/onset", map[string]string{"thresholds": "1.0"}) {
		if x := r["wheel_power_kw"].(float64); math.Abs(x/truth-1) > 0.03 || r["n"] != int64(5) {
			t.Errorf("vehicle %v: got %v kW from %v pulls, want %.1f from 5", r["vehicle"], x, r["n"], truth)
		}
	}
}
