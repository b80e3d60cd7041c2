package packs

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// simulated is how a query did on shops of known truth.
type simulated struct {
	query, truth       string
	answers            int
	sum, worst         float64 // Of the answers' errors.
	percent            bool    // Errors are shares of the truth; else verdicts that are right.
	covered, intervals int
	right              int
}

// add counts an answer with its interval; an open end is no claim.
func (m *simulated) add(t *testing.T, r map[string]any, column string, truth float64) {
	t.Helper()
	x, ok := r[column].(float64)
	if !ok {
		t.Errorf("%s: no answer: %v", m.query, r)
		return
	}
	m.answers++
	m.percent = true
	e := x/truth - 1
	m.sum += e
	m.worst = math.Max(m.worst, math.Abs(e))
	lo, okLo := r["lo95"].(float64)
	hi, okHi := r["hi95"].(float64)
	if !okLo && !okHi {
		return
	}
	m.intervals++
	if (!okLo || lo <= truth) && (!okHi || truth <= hi) {
		m.covered++
	}
}

// verdict counts a verdict that is right.
func (m *simulated) verdict(got any, want string) {
	m.answers++
	if got == want {
		m.right++
	}
}

func (m *simulated) row() string {
	cells := []string{"`" + m.query + "`", m.truth, fmt.Sprint(m.answers), "–", "–", "–", "–"}
	if m.percent {
		cells[3], cells[4] = fmt.Sprintf("%+.2f %%", 100*m.sum/float64(m.answers)+0), fmt.Sprintf("%.2f %%", 100*m.worst)
	} else {
		cells[6] = fmt.Sprintf("%d of %d", m.right, m.answers)
	}
	if m.intervals > 0 {
		cells[5] = fmt.Sprintf("%d of %d", m.covered, m.intervals)
	}
	return "| " + strings.Join(cells, " | ") + " |"
}

// hold is what any honest table must show: a mean error, an interval that covers 95 % but for chance (one in a thousand), verdicts.
func (m *simulated) hold(t *testing.T, meanError float64) {
	t.Helper()
	least := func(n int) int { return int(math.Floor(0.95*float64(n) - 3.1*math.Sqrt(0.95*0.05*float64(n)))) }
	if m.percent && math.Abs(m.sum/float64(m.answers)) > meanError {
		t.Errorf("%s: mean error %.4f, want at most %.4f", m.row(), m.sum/float64(m.answers), meanError)
	}
	if m.intervals > 0 && m.covered < least(m.intervals) {
		t.Errorf("%s: covers too seldom", m.row())
	}
	if !m.percent && m.right < least(m.answers) {
		t.Errorf("%s: too few are right", m.row())
	}
}

// TestSimulatedShops asks the queries of shops whose gains, limits, knees and shift maps are known, and holds the README's table
// against how they did. UPDATE_README=1 writes it anew.
func TestSimulatedShops(t *testing.T) {
	var table strings.Builder
	table.WriteString("| query | what is known | answers | mean error | worst error | 95 % interval covers | verdicts right |\n| --- | --- | ---: | ---: | ---: | ---: | ---: |\n")
	for _, run := range []func(*testing.T) []*simulated{onsets, knees, exhaustLimits, firstLimits, gains, equals, shiftMaps} {
		for _, m := range run(t) {
			t.Log(m.row())
			table.WriteString(m.row() + "\n")
		}
	}
	const file, mark, end = "../../README.md", "<!-- simulated -->\n", "<!-- end -->"
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(text), mark)
	old, after, closed := strings.Cut(rest, end)
	switch {
	case !ok || !closed:
		t.Fatalf("README.md: %q … %q is missing", mark, end)
	case os.Getenv("UPDATE_README") != "":
		if err := os.WriteFile(file, []byte(before+mark+table.String()+end+after), 0o644); err != nil {
			t.Fatal(err)
		}
	case old != table.String():
		t.Errorf("README.md has\n%s\nthe simulation says\n%s", old, table.String())
	}
}

func onsets(t *testing.T) []*simulated {
	s := newShop(301)
	s.only("wheel_power_kw", "net_drive_kpa", "drive_ratio", "drive_basis")
	for v := range 60 {
		s.add(varied(heavy(fmt.Sprint(v)), func(c *car) { c.calibration = "base" }))
	}
	m := &simulated{query: "drive/onset", truth: "the power at which a curved drive ratio passes 1.2, five pulls, 1 % from pull to pull"}
	for _, r := range answers(t, s.open(t), "drive/onset", map[string]string{"thresholds": "1.2"}) {
		m.add(t, r, "wheel_power_kw", 150+180*math.Sqrt(0.4/1.1))
	}
	m.hold(t, 0.01)
	return []*simulated{m}
}

// knees has boost that costs 0.9 kPa of drive a kPa up to 70 kW, and 2.4 beyond.
func knees(t *testing.T) []*simulated {
	s := newShop(302)
	s.only("wheel_power_kw", "boost_kpa", "net_drive_kpa", "drive_ratio", "drive_basis")
	for v := range 60 {
		s.add(varied(light(fmt.Sprint(v)), func(c *car) {
			c.noise = 2
			c.ratio = func(kw float64) float64 { return (0.9*c.boost(kw) + 1.5*1.2*math.Max(0, kw-70)) / c.boost(kw) }
		}))
	}
	at := &simulated{query: "drive/marginal", truth: "the power of the knee, from 0.9 to 2.4 kPa of drive a kPa of boost, at 70 kW"}
	below := &simulated{query: "drive/marginal", truth: "what boost costs below it, 0.9"}
	above := &simulated{query: "drive/marginal", truth: "what boost costs above it, 2.4"}
	for _, r := range answers(t, s.open(t), "drive/marginal", nil) {
		if r["knee"] != true {
			continue
		}
		at.add(t, r, "knee_power_kw", 70)
		below.add(t, r, "ratio_below", 0.9)
		above.add(t, r, "ratio_above", 2.4)
	}
	if at.answers != 60 {
		t.Errorf("%d of 60 knees were found", at.answers)
	}
	for _, m := range []*simulated{at, below, above} {
		m.hold(t, 0.02)
	}
	return []*simulated{at, below, above}
}

// exhaustLimits has an exhaust that rises with the square of power and from pull to pull by 2 % with the filter's load.
func exhaustLimits(t *testing.T) []*simulated {
	s := newShop(303)
	s.only("wheel_power_kw", "exhaust_gauge_kpa", "turbine_out_kpa")
	curve := func(kw float64) float64 { return 1 + kw*kw/600 }
	for v := range 60 {
		s.add(varied(light(fmt.Sprint(v)), func(c *car) { c.exhaust, c.soot, c.noise = curve, 0.02, 0.4 }))
	}
	db := s.open(t)
	top := 0.0
	var out []*simulated
	for _, k := range []struct {
		kw    float64
		basis string
	}{{80, "measured"}, {105, "extrapolated"}} {
		m := &simulated{query: "backpressure/limit", truth: fmt.Sprintf("where the exhaust meets its limit, at %g kW, %s", k.kw, k.basis)}
		for _, r := range answers(t, db, "backpressure/limit", map[string]string{"limit_kpa": fmt.Sprint(curve(k.kw))}) {
			top = math.Max(top, r["highest_power_kw"].(float64))
			if r["basis"] != k.basis {
				t.Errorf("%s: basis of %v", m.truth, r)
				continue
			}
			m.add(t, r, "wheel_power_kw", k.kw)
		}
		m.hold(t, 0.01)
		out = append(out, m)
	}
	far := &simulated{query: "backpressure/limit", truth: "a limit at 150 kW, beyond 15 % over the highest power: not reachable"}
	for _, r := range answers(t, db, "backpressure/limit", map[string]string{"limit_kpa": fmt.Sprint(curve(150))}) {
		if r["wheel_power_kw"] == nil {
			far.verdict(r["basis"], "not reachable")
		}
	}
	far.hold(t, 0)
	t.Logf("highest power %.1f kW", top)
	return append(out, far)
}

// gains has one calibration that gains 4 % of torque on the other, and asks of one bin a shop: those of one shop err together.
func gains(t *testing.T) []*simulated {
	m := &simulated{query: "torque/delta", truth: "a gain of 12 N·m in 298, four pulls a side, 0.5 % from pull to pull"}
	verdict := &simulated{query: "torque/delta", truth: "the same: a gain shown for the curve as a whole"}
	for _, r := range answers(t, pairs(304, 60, 0.04).open(t), "torque/delta", map[string]string{"base": "base", "candidate": "step"}) {
		if r["engine_speed_rpm"] == 2525.0 {
			truth := light("").torque(2525) * 0.04
			m.add(t, r, "delta_nm", truth)
			verdict.verdict(r["verdict_all"], "gain")
		}
	}
	m.hold(t, 0.05)
	verdict.hold(t, 0)
	return []*simulated{m, verdict}
}

// equals has two calibrations that differ in name alone.
func equals(t *testing.T) []*simulated {
	whole := &simulated{query: "compare/curves", truth: "equal calibrations: no difference shown for the torque curve as a whole"}
	bins := &simulated{query: "compare/curves", truth: "equal calibrations: no difference shown in a bin"}
	for _, r := range answers(t, pairs(305, 200, 0).open(t), "compare/curves", map[string]string{"base": "base", "candidate": "step"}) {
		if r["engine_speed_rpm"] == 2525.0 && r["quantity"] == "torque" {
			whole.verdict(r["verdict_all"], "no difference shown")
			bins.verdict(r["verdict"], "no difference shown")
		}
	}
	whole.hold(t, 0)
	bins.hold(t, 0)
	return []*simulated{whole, bins}
}

// pairs is a shop of vehicles with two calibrations each, the second stronger by a share.
func pairs(seed uint64, vehicles int, stronger float64) *shop {
	s := newShop(seed)
	s.only("engine_speed_rpm", "wheel_power_kw", "torque_nm")
	for v := range vehicles {
		for i, name := range []string{"base", "step"} {
			s.add(varied(light(fmt.Sprintf("%03d", v)), func(c *car) {
				plain := c.torque
				c.calibration, c.pulls, c.lo, c.hi, c.seconds, c.offset = name, 4, 2300, 2700, 3, 0.015
				c.torque = func(n float64) float64 { return plain(n) * (1 + stronger*float64(i)) }
			}))
		}
	}
	return s
}

// firstLimits has an exhaust that meets its limit at 85 kW and a turbine inlet that meets its own at 92 kW.
func firstLimits(t *testing.T) []*simulated {
	s := newShop(306)
	s.only("wheel_power_kw", "exhaust_gauge_kpa", "turbine_out_kpa", "turbine_in_c")
	curve := func(kw float64) float64 { return 1 + kw*kw/600 }
	s.limits = demoLimits(curve(85), 300+350*0.92)
	for v := range 60 {
		s.add(varied(light(fmt.Sprint(v)), func(c *car) { c.exhaust, c.soot, c.noise = curve, 0.02, 0.4 }))
	}
	m := &simulated{query: "limits/first", truth: "the exhaust's limit at 85 kW, met before the turbine inlet's at 92 kW"}
	order := &simulated{query: "limits/first", truth: "the same: which limit is first, which is next"}
	for _, r := range answers(t, s.open(t), "limits/first", map[string]string{"ratio": "null"}) {
		order.verdict(fmt.Sprint(r["first_limit"], " ", r["next_limit"]), "exhaust_gauge_kpa turbine_in_c")
		if r["first_limit"] == "exhaust_gauge_kpa" {
			m.add(t, r, "wheel_power_kw", 85)
		}
	}
	m.hold(t, 0.01)
	order.hold(t, 0)
	return []*simulated{m, order}
}

// shiftMaps has upshifts at 1500 + 22 a percent of pedal, each off by 40 1/min.
func shiftMaps(t *testing.T) []*simulated {
	s := newShop(307)
	for v := range 40 {
		for range 60 {
			pedal := 100 * s.rng.Float64()
			middle := math.Min(math.Floor(pedal/10)*10+5, 95)
			s.shift(map[string]any{"vehicle": "v", "platform": fmt.Sprint(v), "test": "road", "from_gear": 2, "to_gear": 3, "engine_speed_rpm": 1500 + 22*middle + 40*s.rng.NormFloat64(), "pedal_pct": pedal})
		}
	}
	m := &simulated{query: "shift/by_pedal", truth: "the upshift speed of a shift map by pedal, some six shifts a bin, each off by 40 1/min"}
	for _, r := range answers(t, s.open(t), "shift/by_pedal", nil) {
		m.add(t, r, "engine_speed_rpm", 1500+22*r["pedal_pct"].(float64))
	}
	m.hold(t, 0.005)
	return []*simulated{m}
}
