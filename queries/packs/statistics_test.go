package packs

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"dynolake/derive/stats"
	"dynolake/queries/engine"
)

// curvesOf gives each pull of a calibration as its means over the bins, and the bins.
func (s *shop) curvesOf(calibration, column string) (bins []float64, pulls [][]float64) {
	at := func(rows engine.Rows, r []any, name string) any { return r[slices.Index(rows.Columns, name)] }
	for _, r := range s.curves.Values {
		if b, _ := at(s.curves, r, "bin").(float64); !slices.Contains(bins, b) {
			bins = append(bins, b)
		}
	}
	slices.Sort(bins)
	for _, run := range s.runs.Values {
		if at(s.runs, run, "calibration") != calibration {
			continue
		}
		p := make([]float64, len(bins))
		for i := range p {
			p[i] = math.NaN()
		}
		for _, r := range s.curves.Values {
			if y, there := at(s.curves, r, column).(float64); there && at(s.curves, r, "run_id") == at(s.runs, run, "run_id") {
				p[slices.Index(bins, at(s.curves, r, "bin").(float64))] = y
			}
		}
		pulls = append(pulls, p)
	}
	return bins, pulls
}

// within holds a value of an answer to one computed apart; NaN is NULL.
func within(t *testing.T, what string, got any, want, tol float64) {
	t.Helper()
	x, there := got.(float64)
	if there == math.IsNaN(want) || there && math.Abs(x-want) > tol {
		t.Errorf("%s: got %v, want %.4f", what, got, want)
	}
}

// TestDeltaAgainstGo holds torque/delta to Welch's test in package stats, bin by bin and for the curve as a whole.
func TestDeltaAgainstGo(t *testing.T) {
	for i, n := range [][2]int{{1, 4}, {2, 2}, {3, 5}, {5, 3}, {6, 6}} {
		s := newShop(uint64(300 + i))
		s.only("engine_speed_rpm", "wheel_power_kw", "torque_nm")
		for side, calibration := range []string{"before", "after"} {
			s.add(varied(light("v"), func(c *car) {
				plain := c.torque
				c.calibration, c.pulls, c.offset, c.noise = calibration, n[side], 0.03, 5+10*float64(side)
				c.torque = func(rpm float64) float64 { return plain(rpm) + float64(side*i)*4 }
				if side == 1 {
					c.lo = 1600 // The lowest bins are the base's alone.
				}
			}))
		}
		bins, base := s.curvesOf("before", "torque_nm")
		_, candidate := s.curvesOf("after", "torque_nm")
		want := stats.Compare(base, candidate, 0.95)
		rows := answers(t, s.open(t), "torque/delta", map[string]string{"base": "before", "candidate": "after"})
		if len(rows) < 40 {
			t.Fatalf("got %d rows", len(rows))
		}
		for _, r := range rows {
			k := slices.Index(bins, r["engine_speed_rpm"].(float64))
			what := fmt.Sprintf("%v pulls at %v rpm", n, bins[k])
			within(t, what+" delta", r["delta_nm"], want.Bins[k].Value, 0.006) // Rounded to two decimals.
			within(t, what+" lo95", r["lo95"], want.Pointwise[k].Lo, 0.006)
			within(t, what+" hi95", r["hi95"], want.Pointwise[k].Hi, 0.006)
			within(t, what+" over the curve", r["delta_all_nm"], want.Mean.Value, 0.006)
			if r["verdict"] != string(want.Pointwise[k].Verdict()) || r["verdict_all"] != string(want.Mean.Interval(0.95).Verdict()) {
				t.Errorf("%s: %v and %v, want %q and %q", what, r["verdict"], r["verdict_all"], want.Pointwise[k].Verdict(), want.Mean.Interval(0.95).Verdict())
			}
		}
	}
}

// without leaves out a run.
func (s *shop) without(run string) *shop {
	keep := func(rows engine.Rows) engine.Rows {
		k := slices.Index(rows.Columns, "run_id")
		rows.Values = slices.DeleteFunc(slices.Clone(rows.Values), func(r []any) bool { return r[k] == run })
		return rows
	}
	left := *s
	left.runs, left.segments, left.curves = keep(s.runs), keep(s.segments), keep(s.curves)
	return &left
}

// TestJackknifeAgainstGo leaves out each pull in turn, asks anew, and makes of the answers what stats.Jackknife does: the intervals
// of the queries are that.
func TestJackknifeAgainstGo(t *testing.T) {
	for _, q := range []struct {
		name   string
		axis   []string
		params map[string]string
	}{
		{"drive/onset", []string{"net_drive_kpa", "drive_ratio", "drive_basis"}, map[string]string{"thresholds": "1.2"}},
		{"backpressure/limit", []string{"turbine_out_kpa", "exhaust_gauge_kpa"}, map[string]string{"limit_kpa": "12"}},
	} {
		for _, n := range []int{2, 4, 5, 6} { // Of three pulls one is every bin's median, and the queries draw the others in towards it.
			s := newShop(uint64(400 + n))
			s.only("wheel_power_kw", q.axis...)
			s.add(varied(light("v"), func(c *car) {
				c.pulls, c.offset, c.noise = n, 0.02, 2.5
				c.ratio = func(kw float64) float64 { return 0.5 + 0.012*kw }
			}))
			ask := func(s *shop) map[string]any {
				rows := answers(t, s.open(t), q.name, q.params)
				if len(rows) != 1 {
					t.Fatalf("%s: %d rows", q.name, len(rows))
				}
				return rows[0]
			}
			all := ask(s)
			want := stats.Jackknife(n, func(pick []int) float64 {
				if len(pick) == n {
					return all["wheel_power_kw"].(float64)
				}
				left := n * (n - 1) / 2
				for _, i := range pick {
					left -= i
				}
				x, ok := ask(s.without(s.runs.Values[left][0].(string)))["wheel_power_kw"].(float64)
				if !ok {
					return math.NaN()
				}
				return x
			}).Interval(0.95)
			// A value that stands off is drawn in by all pulls' scatter in the query and by one pull fewer here, and powers come rounded to 0.1.
			tol := 0.1 + 0.05*stats.TQuantile(0.975, float64(n-1)) + 0.1*(want.Hi-want.Lo)/2
			bins, _ := s.curvesOf("base", q.axis[1])
			lowest := bins[0] + 2.5 // No interval begins below the lowest power measured, which is somewhere in the lowest bin.
			for end, x := range map[string]float64{"lo95": max(want.Lo, min(lowest, all["lo95"].(float64))), "hi95": want.Hi} {
				if got, ok := all[end].(float64); ok && math.Abs(got-x) > tol {
					t.Errorf("%s of %d pulls: %s is %v, want %.2f ± %.2f", q.name, n, end, got, x, tol)
				}
			}
			if all["lo95"] == nil || all["n"] != int64(n) {
				t.Errorf("%s of %d pulls: %v", q.name, n, all)
			}
		}
	}
}

// TestPlacesAgainstGo holds where the exhaust meets its limit to the isotonic crossing, and the knee of drive pressure to the broken stick,
// of package stats: two other ways to the same places.
func TestPlacesAgainstGo(t *testing.T) {
	limitCovers, kneeNear := 0, 0
	const shops = 12
	for i := range shops {
		knee := 70 + 2*float64(i)
		s := newShop(uint64(500 + i))
		s.only("wheel_power_kw", "boost_kpa", "net_drive_kpa", "drive_basis", "drive_ratio", "turbine_out_kpa", "exhaust_gauge_kpa")
		s.add(varied(light("v"), func(c *car) {
			c.pulls, c.offset, c.noise = 3+i%4, 0.01, 1
			c.ratio = func(kw float64) float64 { return (20 + kw + 2.5*math.Max(0, kw-knee)) / c.boost(kw) }
		}))
		db := s.open(t)
		bins, exhaust := s.curvesOf("base", "exhaust_gauge_kpa")
		r := answers(t, db, "backpressure/limit", map[string]string{"limit_kpa": "14"})[0] // Met at 60 kW.
		p := stats.Crossing(bins, exhaust, 14, 0.95)
		within(t, "limit", r["wheel_power_kw"], p.At, 2.5) // Half a bin.
		if p.Holds(60) {
			limitCovers++
		}
		_, drive := s.curvesOf("base", "net_drive_kpa")
		rows := answers(t, db, "drive/marginal", nil)
		k := stats.Bend(middleBins(bins), middles(drive), 0.95)
		x, told := rows[0]["knee_power_kw"].(float64)
		if !told {
			t.Errorf("no knee at %v kW is told; the stick bends at %.1f, %v", knee, k.At, k.P)
			continue
		}
		within(t, "knee", x, k.At, 5)
		if math.Abs(x-knee) < 5 && math.Abs(k.At-knee) < 5 {
			kneeNear++
		}
	}
	if limitCovers < shops-2 || kneeNear < shops-1 {
		t.Errorf("of %d shops the crossing holds the truth in %d, the knees are within a bin of it in %d", shops, limitCovers, kneeNear)
	}
}

// middleBins leaves out the outermost bins, of which a pull fills a part alone.
func middleBins(bins []float64) []float64 { return bins[1 : len(bins)-1] }

func middles(pulls [][]float64) [][]float64 {
	out := make([][]float64, len(pulls))
	for i, p := range pulls {
		out[i] = middleBins(p)
	}
	return out
}
