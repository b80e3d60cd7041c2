package packs

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"dynolake/queries/engine"
	"dynolake/schema"
)

// shop invents runs of known truth: samples with noise, binned into curves as the lake has them.
type shop struct {
	rng                    *rand.Rand
	runs, segments, curves engine.Rows
	findings               engine.Rows // What a run tells of its sensors.
	limits                 []schema.Limit
	count                  int
	axes                   map[string]float64 // Of the curves, with their bins' width.
}

// car is the truth of one vehicle and calibration.
type car struct {
	vehicle, calibration, platform, duty string
	torque                               func(rpm float64) float64 // N·m.
	lo, hi                               float64                   // rpm of a pull.
	ratio                                func(kw float64) float64
	boost                                func(kw float64) float64 // kPa.
	exhaust                              func(kw float64) float64 // kPa gauge.
	lambda                               float64
	pulls                                int
	rate, seconds                        float64 // Hz, length of a pull.
	offset                               float64 // Standard deviation of a pull's own factor on ratio; a third of it on torque.
	soot                                 float64 // Standard deviation of a pull's own factor on the exhaust's pressure.
	noise                                float64 // Of every pressure, kPa; of torque in thousandths.
	tweak                                func(pull int, at map[string]any)
}

func newShop(seed uint64) *shop {
	return &shop{
		axes:     map[string]float64{"engine_speed_rpm": 50, "wheel_power_kw": 5},
		rng:      rand.New(rand.NewPCG(seed, 1)),
		runs:     engine.Rows{Columns: []string{"run_id", "vehicle", "platform", "duty", "calibration", "test", "standard", "baro_kpa", "started_at"}},
		segments: engine.Rows{Columns: []string{"run_id", "segment_id", "kind", "gear", "locked", "charge_start_c", "coolant_c", "peak_power_kw", "flagged", "from_gear", "to_gear", "engine_speed_rpm", "pedal_pct", "t0_s"}},
		curves: engine.Rows{Columns: []string{"run_id", "segment_id", "axis", "bin", "n_samples", "engine_speed_rpm", "wheel_power_kw", "torque_nm", "boost_kpa", "net_drive_kpa",
			"drive_basis", "drive_ratio", "gross_drive_kpa", "turbine_out_kpa", "exhaust_gauge_kpa", "dpf_delta_kpa", "lambda_ratio", "turbine_in_c",
			"compressor_ratio", "charge_c", "dpf_resist", "air_kg_h"}},
		findings: engine.Rows{Columns: []string{"run_id", "severity", "code", "channel", "value", "unit"}},
	}
}

// tables are what a session reads.
func (s *shop) tables() map[string]engine.Rows {
	return map[string]engine.Rows{"runs": s.runs, "segments": s.segments, "curves": s.curves, "findings": s.findings}
}

// only keeps one axis and the columns named, which is quicker to store.
func (s *shop) only(axis string, columns ...string) {
	s.axes = map[string]float64{axis: s.axes[axis]}
	s.curves.Columns = append([]string{"run_id", "segment_id", "axis", "bin", axis}, columns...)
}

func row(columns []string, at map[string]any) []any {
	r := make([]any, len(columns))
	for i, c := range columns {
		r[i] = at[c]
	}
	return r
}

// add makes the car's pulls, a run each.
func (s *shop) add(c car) {
	for p := range c.pulls {
		s.count++
		at := map[string]any{
			"run_id": fmt.Sprintf("%016x", s.count), "vehicle": c.vehicle, "platform": c.platform, "duty": c.duty, "calibration": c.calibration, "test": "sweep", "standard": "none",
			"baro_kpa": 99 + 0.5*s.rng.NormFloat64(), "segment_id": 0, "kind": "pull", "gear": 4, "locked": true, "charge_start_c": 30 + s.rng.NormFloat64(), "coolant_c": 88 + s.rng.NormFloat64(),
			"drive_basis": "outlet", "started_at": time.Date(2026, 1, 1, 9, s.count, 0, 0, time.UTC),
		}
		if c.tweak != nil {
			c.tweak(p, at)
		}
		at["peak_power_kw"] = s.pull(c, at)
		s.runs.Values = append(s.runs.Values, row(s.runs.Columns, at))
		s.segments.Values = append(s.segments.Values, row(s.segments.Columns, at))
		s.findings.Values = append(s.findings.Values, []any{at["run_id"], "note", "uncertainty", "boost_kpa", 0.6, "kPa"})
	}
}

type sums struct {
	n    float64
	of   map[string]float64
	reps map[string]float64
}

// pull samples one pull, bins it and gives its highest power.
func (s *shop) pull(c car, at map[string]any) float64 {
	factor, strength := 1+c.offset*s.rng.NormFloat64(), 1+c.offset/3*s.rng.NormFloat64()
	loaded := 1.0
	if c.soot > 0 {
		loaded += c.soot * s.rng.NormFloat64()
	}
	if f, ok := at["factor"].(float64); ok {
		factor = f
	}
	bins := map[string]map[float64]*sums{"engine_speed_rpm": {}, "wheel_power_kw": {}}
	type sample map[string]float64
	var samples []sample
	top := 0
	for i := range int(c.rate * c.seconds) {
		rpm := c.lo + (c.hi-c.lo)*(float64(i)+s.rng.Float64())/(c.rate*c.seconds)
		nm := c.torque(rpm) * strength * (1 + c.noise/1000*s.rng.NormFloat64())
		kw := nm * rpm / 9549.297
		truth := c.torque(rpm) * rpm / 9549.297
		boost := c.boost(truth)
		exhaust := c.exhaust(truth) * loaded
		drive := c.ratio(truth) * boost * factor
		boost += c.noise * s.rng.NormFloat64()
		in := 99 + exhaust + drive + c.noise*s.rng.NormFloat64()
		out := 99 + exhaust + c.noise*s.rng.NormFloat64()
		v := sample{"engine_speed_rpm": rpm, "wheel_power_kw": kw, "torque_nm": nm, "boost_kpa": boost, "net_drive_kpa": in - out, "gross_drive_kpa": in - 99, "turbine_out_kpa": out,
			"exhaust_gauge_kpa": out - 99, "dpf_delta_kpa": 0.6 * (out - 99), "lambda_ratio": c.lambda + 0.02*s.rng.NormFloat64(),
			"turbine_in_c": 300 + 350*kw/100 + 2*s.rng.NormFloat64(), "compressor_ratio": (99 + boost) / 99, "charge_c": 30 + 0.1*kw, "dpf_resist": 8 + 0.01*kw, "air_kg_h": 5 * kw}
		if boost >= 35 {
			v["drive_ratio"] = (in - out) / boost
		}
		samples = append(samples, v)
		if kw > samples[top]["wheel_power_kw"] {
			top = i
		}
	}
	for i, v := range samples {
		for axis, width := range s.axes {
			if axis == "wheel_power_kw" && i > top {
				continue
			}
			b := (math.Floor(v[axis]/width) + 0.5) * width
			if bins[axis][b] == nil {
				bins[axis][b] = &sums{of: map[string]float64{}, reps: map[string]float64{}}
			}
			bins[axis][b].n++
			for k, x := range v {
				bins[axis][b].of[k] += x
				bins[axis][b].reps[k]++
			}
		}
	}
	for axis, all := range bins {
		for b, sum := range all {
			out := map[string]any{"run_id": at["run_id"], "segment_id": at["segment_id"], "axis": axis, "bin": b, "n_samples": int64(sum.n), "drive_basis": at["drive_basis"]}
			for k, x := range sum.of {
				out[k] = x / sum.reps[k]
			}
			s.curves.Values = append(s.curves.Values, row(s.curves.Columns, out))
		}
	}
	return samples[top]["wheel_power_kw"]
}

func (s *shop) shift(at map[string]any) {
	s.count++
	at["run_id"], at["segment_id"], at["kind"] = fmt.Sprintf("%016x", s.count), 1, "shift"
	s.runs.Values = append(s.runs.Values, row(s.runs.Columns, at))
	s.segments.Values = append(s.segments.Values, row(s.segments.Columns, at))
}

func square(x float64) float64 { return x * x }

// light and heavy give a plain car to vary.
func light(vehicle string) car {
	return car{vehicle: vehicle, calibration: "base", platform: "small", duty: "light", pulls: 5, rate: 20, seconds: 8, lo: 1400, hi: 4300, offset: 0.01, noise: 1, lambda: 1.3,
		torque:  func(n float64) float64 { return 300 - 60*square((n-2300)/1500) },
		boost:   func(kw float64) float64 { return 30 + 1.2*kw },
		exhaust: func(kw float64) float64 { return 2 + 0.2*kw },
		ratio:   func(kw float64) float64 { return 0.75 + square((kw-25)/60) + 0.02*math.Max(0, 45-kw) }}
}

func heavy(vehicle string) car {
	return car{vehicle: vehicle, calibration: "base", platform: "large", duty: "heavy", pulls: 5, rate: 20, seconds: 12, lo: 1000, hi: 2200, offset: 0.01, noise: 1, lambda: 1.4,
		torque:  func(n float64) float64 { return 1500 - 350*square((n-1300)/900) },
		boost:   func(kw float64) float64 { return 40 + 0.7*kw },
		exhaust: func(kw float64) float64 { return 2 + 0.06*kw },
		ratio:   func(kw float64) float64 { return 0.8 + 1.1*square((kw-150)/180) }}
}

// open starts a session on the shop's rows.
func (s *shop) open(t testing.TB) *engine.Session {
	t.Helper()
	session, err := engine.OpenTables(t.Context(), s.tables(), engine.Options{Limits: s.limits})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := session.Close(); err != nil {
			t.Error(err)
		}
	})
	return session
}

// answers runs a query and gives its rows by column name.
func answers(t testing.TB, s *engine.Session, name string, params map[string]string) []map[string]any {
	t.Helper()
	set, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	p, err := set.Pack(name)
	if err != nil {
		t.Fatal(err)
	}
	sql, err := p.SQL(params)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := s.Query(t.Context(), sql)
	if err != nil {
		t.Fatal(err)
	}
	values, err := rows.All()
	if err != nil {
		t.Fatal(err)
	}
	all := make([]map[string]any, len(values))
	for i, r := range values {
		all[i] = map[string]any{}
		for j, c := range rows.Names() {
			all[i][c] = r[j]
		}
	}
	return all
}
