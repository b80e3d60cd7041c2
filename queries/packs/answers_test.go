package packs

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"dynolake/queries/engine"
	"dynolake/schema"
)

func close2(t *testing.T, what string, got any, want float64) {
	t.Helper()
	if x, ok := float(got); !ok || math.Abs(x/want-1) > 0.02 {
		t.Errorf("%s: got %v, want %.4g within 2 %%", what, got, want)
	}
}

// demoShop has two platforms with vehicles and calibrations of known truth.
func demoShop() *shop {
	s := newShop(42)
	s.limits = append(demoLimits(20, 700), schema.Limit{Column: "lambda_ratio", Max: math.NaN(), Min: 1.2})
	for i, strength := range []float64{1, 1.1} {
		for _, v := range []string{"a", "b"} {
			s.add(varied(light("small "+v), func(c *car) {
				plain := c.torque
				c.calibration, c.torque = fmt.Sprint("step ", i), func(n float64) float64 { return strength * plain(n) }
			}))
		}
		s.add(varied(heavy("large a"), func(c *car) {
			plain := c.torque
			c.calibration, c.torque = fmt.Sprint("step ", i), func(n float64) float64 { return strength * plain(n) }
		}))
	}
	for i := range 9 {
		s.shift(map[string]any{"vehicle": "small a", "platform": "small", "duty": "light", "test": "road", "from_gear": 1 + i%3, "to_gear": 2 + i%3, "engine_speed_rpm": 3800 + 10*float64(i-4), "pedal_pct": 97})
		s.shift(map[string]any{"vehicle": "small a", "platform": "small", "duty": "light", "test": "road", "from_gear": 1 + i%3, "to_gear": 2 + i%3, "engine_speed_rpm": 2200, "pedal_pct": 40})
	}
	return s
}

// demoLimits bounds the exhaust's pressure and the temperature before the turbine.
func demoLimits(kpa, celsius float64) []schema.Limit {
	return []schema.Limit{{Column: "exhaust_gauge_kpa", Max: kpa, Min: math.NaN()}, {Column: "turbine_in_c", Max: celsius, Min: math.NaN()}}
}

// inner leaves out the outermost bins of each curve, where rows fill a part of the bin and its middle is not their power.
func inner(rows []map[string]any) []map[string]any {
	var kept []map[string]any
	for i, r := range rows {
		if i > 1 && i+2 < len(rows) && rows[i-2]["vehicle"] == r["vehicle"] && rows[i-2]["calibration"] == r["calibration"] &&
			rows[i+2]["vehicle"] == r["vehicle"] && rows[i+2]["calibration"] == r["calibration"] {
			kept = append(kept, r)
		}
	}
	return kept
}

func TestByPowerTruth(t *testing.T) {
	db := demoShop().open(t)
	c := light("")
	rows := answers(t, db, "drive/by_power", map[string]string{"platform": "small"})
	if len(rows) < 40 {
		t.Fatalf("got %d rows", len(rows))
	}
	for _, r := range inner(rows) {
		kw := r["wheel_power_kw"].(float64)
		what := fmt.Sprint(r["vehicle"], " ", r["calibration"], " at ", kw)
		close2(t, what+" ratio", r["drive_ratio"], c.ratio(kw))
		close2(t, what+" boost", r["boost_kpa"], c.boost(kw))
	}
	for _, r := range inner(answers(t, db, "backpressure/by_power", map[string]string{"platform": "large"})) {
		kw := r["wheel_power_kw"].(float64)
		h := heavy("")
		what := fmt.Sprint(r["calibration"], " at ", kw)
		if got := r["exhaust_gauge_kpa"].(float64); math.Abs(got-h.exhaust(kw)) > 1.1 {
			t.Errorf("%s: exhaust %v, want %.2f", what, got, h.exhaust(kw))
		}
		share := h.exhaust(kw) / (h.exhaust(kw) + h.ratio(kw)*h.boost(kw))
		if got := r["share_of_turbine_in"].(float64); math.Abs(got-share) > 0.005 {
			t.Errorf("%s: share %v, want %.3f", what, got, share)
		}
	}
}

func TestTorqueCurveTruth(t *testing.T) {
	const shops = 40
	s := newShop(5)
	s.only("engine_speed_rpm", "wheel_power_kw", "torque_nm")
	for v := range shops {
		s.add(varied(light(fmt.Sprint(v)), func(c *car) { c.pulls = 4 }))
	}
	c, covered, all := light(""), 0, 0
	for _, r := range answers(t, s.open(t), "torque/curve", nil) {
		n := r["engine_speed_rpm"].(float64)
		close2(t, fmt.Sprint("torque at ", n), r["torque_nm"], c.torque(n))
		close2(t, fmt.Sprint("power at ", n), r["power_kw"], c.torque(n)*n/9549.297)
		if n == 2525 { // One bin a shop: those of one shop err together.
			all++
			if r["lo95"].(float64) <= c.torque(n) && c.torque(n) <= r["hi95"].(float64) {
				covered++
			}
		}
	}
	if all != shops || covered < shops*85/100 {
		t.Errorf("the interval covers the truth in %d of %d shops, want about 95 %%", covered, all)
	}
}

func TestSummaryTruth(t *testing.T) {
	rows := answers(t, demoShop().open(t), "platform/summary", nil)
	if len(rows) != 2 {
		t.Fatalf("got %d rows, want one a platform", len(rows))
	}
	for i, c := range []car{heavy(""), light("")} {
		r := rows[i]
		if r["platform"] != c.platform || r["duty"] != c.duty {
			t.Errorf("row %d is of %v", i, r["platform"])
		}
		torque, _ := peakOf(c, c.torque)
		power, _ := peakOf(c, func(n float64) float64 { return c.torque(n) * n / 9549.297 })
		close2(t, "power", r["peak_power_kw"], 1.1*power)
		close2(t, "torque", r["peak_torque_nm"], 1.1*torque)
		close2(t, "best ratio", r["drive_ratio_best"], c.ratio(power))
		close2(t, "worst ratio", r["drive_ratio_worst"], c.ratio(1.1*power))
		close2(t, "exhaust", r["exhaust_gauge_kpa"], (c.exhaust(power)+c.exhaust(1.1*power))/2)
		close2(t, "lambda", r["lambda_median"], c.lambda)
	}
	if r := rows[1]; r["shift_rpm_wide_open"] != 3800.0 || r["vehicles"] != int64(2) || r["runs"] != int64(38) || r["pulls"] != int64(20) || rows[0]["shift_rpm_wide_open"] != nil {
		t.Errorf("got %v", rows)
	}
}

// TestAnswersStand holds for every query: an empty lake answers no rows, a plan can be shown, and the answer is the same
// whatever the order of the rows stored and the number of threads.
func TestAnswersStand(t *testing.T) {
	set, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	s := demoShop()
	db := s.open(t)
	slices.Reverse(s.curves.Values)
	slices.Reverse(s.segments.Values)
	slices.Reverse(s.runs.Values)
	slices.Reverse(s.findings.Values)
	turned, err := engine.OpenTables(t.Context(), s.tables(), engine.Options{Threads: 1, Limits: s.limits})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = turned.Close() }()
	for _, p := range set.All() {
		sql, err := p.SQL(nil)
		if err != nil {
			t.Fatal(err)
		}
		if _, rows, err := ask(t.Context(), nil, sql); err != nil || len(rows) != 0 {
			t.Errorf("%s on an empty lake: %d rows and %v", p.Name, len(rows), err)
		}
		if _, err := db.Query(t.Context(), "EXPLAIN "+sql); err != nil {
			t.Errorf("%s: explain: %v", p.Name, err)
		}
		if !strings.Contains(sql, "ORDER BY") {
			t.Errorf("%s is not ordered", p.Name)
		}
		a, b := fmt.Sprint(answers(t, db, p.Name, nil)), fmt.Sprint(answers(t, turned, p.Name, nil))
		if a != b || len(a) < 100 {
			t.Errorf("%s answers two things:\n%.2000s\n%.2000s", p.Name, a, b)
		}
	}
}

// TestUnknownVehicle holds that runs without a sheet still answer, in a row that names no vehicle.
func TestUnknownVehicle(t *testing.T) {
	s := newShop(9)
	s.add(varied(light(""), func(c *car) {
		c.tweak = func(_ int, at map[string]any) {
			at["vehicle"], at["platform"], at["duty"], at["calibration"] = nil, nil, nil, nil
		}
	}))
	db := s.open(t)
	for _, q := range []string{"torque/peak", "drive/onset", "drive/by_power", "platform/summary"} {
		rows := answers(t, db, q, nil)
		if len(rows) == 0 || rows[0]["platform"] != nil {
			t.Errorf("%s gave %v", q, rows)
		}
	}
	if r := answers(t, db, "platform/summary", nil)[0]; r["peak_power_kw"] == nil || r["drive_ratio_best"] == nil || r["runs"] != int64(5) {
		t.Errorf("got %v", r)
	}
}

// TestFlagged holds that a doubted pull is counted and named.
func TestFlagged(t *testing.T) {
	s := newShop(10)
	s.add(varied(light("a"), func(c *car) {
		c.tweak = func(pull int, at map[string]any) {
			if pull%2 == 1 {
				at["flagged"] = "cold"
			}
		}
	}))
	r := answers(t, s.open(t), "torque/peak", nil)[0]
	if r["n_pulls"] != int64(5) || r["flagged"] != "0000000000000002/0 cold, 0000000000000004/0 cold" {
		t.Errorf("got %v", r)
	}
}

// TestStudent holds the macro against the table of 40 CFR 1065.602 and, where that has no line, the quantile to six digits.
func TestStudent(t *testing.T) {
	for df, want := range map[int]float64{1: 12.706205, 2: 4.302653, 5: 2.570582, 9: 2.262157, 10: 2.228139, 15: 2.131450, 20: 2.085963, 30: 2.042272, 60: 2.000298, 120: 1.979930} {
		_, rows, err := ask(t.Context(), nil, fmt.Sprintf("SELECT t975(%d) AS t, t975(0) AS none", df))
		if err != nil {
			t.Fatal(err)
		}
		if got, _ := float(rows[0][0]); math.Abs(got-want) > 1e-5 || rows[0][1] != nil {
			t.Errorf("%d degrees: got %v, want %v", df, rows[0], want)
		}
	}
}

// BenchmarkOnset is 20 vehicles of 20 pulls each.
func BenchmarkOnset(b *testing.B) {
	s := newShop(1)
	s.only("wheel_power_kw", "net_drive_kpa", "drive_ratio", "drive_basis")
	for v := range 20 {
		s.add(varied(heavy(fmt.Sprint(v)), func(c *car) { c.pulls = 20 }))
	}
	db := s.open(b)
	for b.Loop() {
		if rows := answers(b, db, "drive/onset", nil); len(rows) != 80 {
			b.Fatalf("got %d rows", len(rows))
		}
	}
}
