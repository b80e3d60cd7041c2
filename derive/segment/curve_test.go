package segment_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"dynolake/derive/segment"
	"dynolake/schema"
)

// ramp is one pull of ten seconds: engine speed rises evenly from 1500 rpm, the rest follows from it.
func ramp(rate, to float64, columns map[string]func(rpm float64) float64) (*schema.Frame, []schema.Segment) {
	const from, seconds = 1500.0, 10.0
	var t, n []float64
	for i := 0; float64(i)/rate <= seconds+1e-9; i++ {
		t = append(t, float64(i)/rate)
		n = append(n, from+(to-from)*t[i]/seconds)
	}
	f := schema.NewFrame(t)
	f.Set("engine_speed_rpm", n)
	for name, value := range columns {
		x := make([]float64, len(n))
		for i := range x {
			x[i] = value(n[i])
		}
		f.Set(name, x)
	}
	return f, []schema.Segment{{RunID: "r", ID: 7, Kind: "pull", T0S: 0, T1S: t[len(t)-1], Row1: len(t) - 1, Pull: &schema.Pull{RPMFrom: from, RPMTo: to}}}
}

func byBin(curves []schema.Curve, axis string) map[float64]schema.Curve {
	m := map[float64]schema.Curve{}
	for _, c := range curves {
		if c.Axis == axis {
			m[c.Bin] = c
		}
	}
	return m
}

// Bins have the stated middles, means are those of the underlying curve whatever the rate, and rows are counted.
func TestCurvesAtEveryRate(t *testing.T) {
	torque := func(n float64) float64 { u := (n - 2300) / 2000; return 400 - 150*u*u }
	power := func(n float64) float64 { return torque(n) * n / 9549.297 }
	for _, rate := range []float64{4, 10, 25, 100, 1000} {
		f, pulls := ramp(rate, 4000, map[string]func(float64) float64{"torque_nm": torque, "wheel_power_kw": power})
		curves := segment.Curves(f, pulls)
		bins, rows := byBin(curves, "engine_speed_rpm"), 0
		for k := range 50 {
			middle := 1525 + 50*float64(k)
			c, ok := bins[middle]
			if !ok || c.RunID != "r" || c.SegmentID != 7 {
				t.Fatalf("%g Hz: bin %g: %+v", rate, middle, c)
			}
			near(t, "torque", c.Mean["torque_nm"], torque(middle), 0.002*400)
			near(t, "engine speed", c.Mean["engine_speed_rpm"], middle, 1e-6)
			rows += c.N
		}
		if last := bins[4025].N; rows+last != f.Len() || last != 1 {
			t.Errorf("%g Hz: %d rows in bins, want %d", rate, rows+last, f.Len())
		}
		near(t, "rows in a bin", float64(bins[2025].N), rate/5, 1)
		highest := 0.0
		for kw, c := range byBin(curves, "wheel_power_kw") {
			highest = math.Max(highest, kw)
			near(t, "power bin", math.Mod(kw, 5), 2.5, 1e-9)
			near(t, "power", c.Mean["wheel_power_kw"], kw, 2.5)
			if c.Mean["engine_speed_rpm"] > 3560 {
				t.Errorf("%g Hz: bin %g takes rows beyond the peak: %g rpm", rate, kw, c.Mean["engine_speed_rpm"])
			}
		}
		near(t, "highest power bin", highest, 5*math.Floor(power(3503)/5)+2.5, 0)
	}
}

// Between rows three bins or more apart nothing is invented, nor across a hole in time.
func TestCurvesDoNotBridge(t *testing.T) {
	flat := map[string]func(float64) float64{"torque_nm": func(float64) float64 { return 300 }}
	f, pulls := ramp(1, 4000, flat) // 250 rpm a row.
	curves := segment.Curves(f, pulls)
	if len(curves) != 11 {
		t.Errorf("%d bins, want one a row: 11", len(curves))
	}
	for _, c := range curves {
		if c.N != 1 || c.Mean["torque_nm"] != 300 {
			t.Errorf("%+v", c)
		}
	}
	f, pulls = ramp(10, 2500, flat)
	for i, at := range f.T {
		if at > 3.95 && at < 5.95 {
			f.Column("engine_speed_rpm")[i] = nan
		}
	}
	for bin, c := range byBin(segment.Curves(f, pulls), "engine_speed_rpm") {
		if bin > 1900 && bin < 2100 && bin != 1925 && bin != 2075 {
			t.Errorf("bin %g is filled across the hole: %+v", bin, c)
		}
	}
}

// A slower channel is drawn between its own values, a state is held, an enumeration takes the code that held longest, and a
// column that was never logged is absent.
func TestCurvesOfOtherChannels(t *testing.T) {
	f, pulls := ramp(20, 2500, map[string]func(float64) float64{
		"lambda_ratio": func(n float64) float64 { return 1 + n/1000 },
		"coolant_c":    func(n float64) float64 { return n / 25 },
		"drive_basis":  func(n float64) float64 { return map[bool]float64{true: 0, false: 1}[n < 1730] },
		"gear":         func(float64) float64 { return 4 },
		"nox_ppm":      func(float64) float64 { return nan },
	})
	for i := range f.T {
		if i%7 != 0 {
			f.Column("coolant_c")[i] = nan
		}
	}
	bins := byBin(segment.Curves(f, pulls), "engine_speed_rpm")
	c := bins[1725]
	near(t, "basis", c.Mean["drive_basis"], 0, 0)
	near(t, "basis above", bins[1775].Mean["drive_basis"], 1, 0)
	near(t, "gear", c.Mean["gear"], 4, 1e-12)
	near(t, "coolant", c.Mean["coolant_c"], 69, 1e-9)
	near(t, "lambda", c.Mean["lambda_ratio"], 2.725, 1e-9)
	near(t, "lambda p05", c.P05["lambda_ratio"], 2.70225, 1e-6) // Rows at 1700, 1705 … 1745 rpm.
	near(t, "lambda p95", c.P95["lambda_ratio"], 2.74275, 1e-6)
	if _, ok := c.P05["coolant_c"]; ok {
		t.Error("coolant has no quantiles in the catalogue")
	}
	if _, ok := c.Mean["nox_ppm"]; ok {
		t.Error("a column without values has a mean")
	}
	if _, ok := c.Mean["t_s"]; ok {
		t.Error("time has a mean")
	}
	for _, seg := range []schema.Segment{{Kind: "steady", Row1: 5}, {Kind: "pull", Row1: 1 << 30, Pull: &schema.Pull{}}} {
		if n := len(segment.Curves(f, []schema.Segment{seg})); n > 0 {
			t.Errorf("%d curves of %+v", n, seg)
		}
	}
}

// The whole way, with noise: bins of a 4 Hz and a 100 Hz log of the same pulls agree with the model, on both axes.
func TestCurvesOfNoisyLogs(t *testing.T) {
	c := lightManual
	d := sweeps(c, 4, 3, 1500, 4000)
	for _, rate := range rates {
		for _, noise := range []float64{0, 0.01} {
			f := d.record(recorder{rate: rate, noise: noise, gearVia: 0.5, seed: 5})
			segments, _ := segment.Find(f, c.context("sweep"))
			curves := segment.Curves(f, segments)
			bins, top := map[float64][]float64{}, 0.0
			for _, x := range curves {
				if x.Axis == "engine_speed_rpm" {
					bins[x.Bin] = append(bins[x.Bin], x.Mean["wheel_power_kw"])
				} else {
					top = math.Max(top, x.Bin)
				}
			}
			for bin := 2225.0; bin < 3900; bin += 50 { // Below it the turbo spools up.
				if len(bins[bin]) != 3 {
					t.Errorf("%g Hz: bin %g has %d pulls of 3", rate, bin, len(bins[bin]))
					continue
				}
				got := (bins[bin][0] + bins[bin][1] + bins[bin][2]) / 3
				near(t, "power", got/c.power(bin), 1, 0.01+1.5*noise)
			}
			if top > 97.5 {
				t.Errorf("%g Hz, noise %g: bins up to %g kW, true peak 95", rate, noise, top)
			}
		}
	}
}

// Power that spools up within a second of a long pull and scatters: what goes with a power stays with it, low and high.
func TestPowerBinsWhereItBends(t *testing.T) {
	seed := rand.New(rand.NewPCG(3, 3))
	for _, rate := range []float64{10, 25, 100} {
		spool := func(n float64) float64 { // 40 kW at first, 200 kW a second later, 300 kW at the end.
			u := (n - 1500) / 150
			return 40 + 160/(1+math.Exp(-5*(u-1))) + 100*max(0, u-1)/9
		}
		f, pulls := ramp(rate, 3000, map[string]func(float64) float64{
			"boost_kpa":      func(n float64) float64 { return spool(n) * 0.7 },
			"wheel_power_kw": func(n float64) float64 { return spool(n) * (1 + 0.01*seed.NormFloat64()) },
		})
		bins := byBin(segment.Curves(f, pulls), "wheel_power_kw")
		for kw := 57.5; kw < 290; kw += 5 {
			if c, ok := bins[kw]; ok && (c.N > 1 || rate > 10) {
				near(t, "boost over power in a bin", c.Mean["boost_kpa"]/0.7/kw, 1, 0.05)
			}
		}
		for kw := 222.5; kw < 290; kw += 5 {
			near(t, "boost over power in a high bin", bins[kw].Mean["boost_kpa"]/0.7/kw, 1, 0.012)
		}
	}
}
