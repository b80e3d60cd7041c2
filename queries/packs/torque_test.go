package packs

import (
	"fmt"
	"math"
	"testing"
)

// peakOf finds a curve's highest value by trying every speed.
func peakOf(c car, f func(rpm float64) float64) (y, rpm float64) {
	for n := c.lo; n <= c.hi; n++ {
		if v := f(n); v > y {
			y, rpm = v, n
		}
	}
	return y, rpm
}

func peakCases() map[string]car {
	plateau := func(n float64) float64 { return math.Min(math.Min(400, 400+(n-1800)*0.4), 400*3200/math.Max(n, 3200)) }
	governed := func(n float64) float64 { return 1800 - math.Max(0, n-1900)*9 }
	return map[string]car{
		"light":                      light(""),
		"heavy":                      heavy(""),
		"plateau and constant power": varied(light(""), func(c *car) { c.torque = plateau; c.hi = 4000 }),
		"governor cuts off":          varied(heavy(""), func(c *car) { c.torque = governed; c.hi = 2080 }),
		"power rises to the end":     varied(light(""), func(c *car) { c.torque = func(n float64) float64 { return 250 + 0.01*n }; c.hi = 3800 }),
		"torque falls from the start": varied(heavy(""), func(c *car) {
			c.torque = func(n float64) float64 { return 1600 - 0.4*(n-1000) }
		}),
		"four rows a second": varied(light(""), func(c *car) { c.rate = 4; c.pulls = 4 }),
		"noisy":              varied(light(""), func(c *car) { c.noise = 20; c.pulls = 3 }),
		"noisy and few rows": varied(heavy(""), func(c *car) { c.noise = 15; c.rate = 4; c.pulls = 3 }),
		"one pull":           varied(light(""), func(c *car) { c.pulls = 1; c.offset = 0.005 }),
	}
}

// TestPeakTruth holds torque/peak within 2 % of the truth, on the mean of ten shops and in nearly all of them.
func TestPeakTruth(t *testing.T) {
	for name, k := range peakCases() {
		t.Run(name, func(t *testing.T) {
			s := newShop(200)
			s.only("engine_speed_rpm", "wheel_power_kw", "torque_nm")
			for v := range 10 {
				s.add(varied(k, func(c *car) { c.vehicle = fmt.Sprint(v) }))
			}
			torque, torqueAt := peakOf(k, k.torque)
			power, powerAt := peakOf(k, func(n float64) float64 { return k.torque(n) * n / 9549.297 })
			rows := answers(t, s.open(t), "torque/peak", nil)
			if len(rows) != 10 {
				t.Fatalf("got %d rows, want 10", len(rows))
			}
			for column, want := range map[string]float64{"peak_torque_nm": torque, "peak_power_kw": power} {
				sum, far := 0.0, 0
				for _, r := range rows {
					e := r[column].(float64)/want - 1
					sum += e / 10
					if math.Abs(e) > 0.02 {
						far++
					}
				}
				t.Logf("%s: mean error %+.4f, %d of 10 beyond 2 %%", column, sum, far)
				if math.Abs(sum) > 0.01 || far > 1 {
					t.Errorf("%s: mean error %+.4f, %d of 10 beyond 2 %% of %.1f", column, sum, far, want)
				}
			}
			t.Logf("power at %.0f, torque at %.0f, first row %v", powerAt, torqueAt, rows[0])
		})
	}
}
