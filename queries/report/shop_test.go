package report

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/schema"
)

// hostile is a vehicle's name as somebody might type it to do harm.
const hostile = `</title><script>alert("x")</script><img src=x onerror=alert(1)>&amp; it's`

// shop is an invented lake: a light and a heavy platform, two vehicles each, two calibrations each, the later one stronger by a
// known torque; four pulls each without scatter but for a known ripple.
type shop struct {
	runs, segments, curves, findings engine.Rows
	count                            int
}

func newShop() *shop {
	s := &shop{
		runs:     engine.Rows{Columns: []string{"run_id", "vehicle", "platform", "duty", "calibration", "test", "standard", "baro_kpa", "started_at"}},
		segments: engine.Rows{Columns: []string{"run_id", "segment_id", "kind", "gear", "locked", "charge_start_c", "coolant_c", "from_gear", "to_gear", "engine_speed_rpm", "pedal_pct", "t0_s"}},
		curves: engine.Rows{Columns: []string{"run_id", "segment_id", "axis", "bin", "n_samples", "engine_speed_rpm", "wheel_power_kw", "torque_nm", "boost_kpa", "net_drive_kpa",
			"drive_basis", "drive_ratio", "gross_drive_kpa", "turbine_out_kpa", "exhaust_gauge_kpa", "dpf_delta_kpa", "lambda_ratio"}},
		findings: engine.Rows{Columns: []string{"source", "severity", "code", "text"}, Values: [][]any{{"<b>bad</b>.csv", "rejected", "no_clock", "there is no time channel in <b>bad</b>.csv"}}},
	}
	for _, v := range []struct {
		vehicle, platform, duty string
		scale                   float64
	}{{"car a", "small", "light", 1}, {hostile, "small", "light", 1.02}, {"truck a", "large <i>", "heavy", 4}, {"truck b", "large <i>", "heavy", 4.1}} {
		for k, cal := range []string{"zero", "first step"} {
			for p := range 4 {
				s.pull(v.vehicle, v.platform, v.duty, cal, 300*v.scale*(1+0.1*float64(k))*(1+0.002*float64(p-1)), time.Date(2026, time.Month(1+k), 2+p, 10, 0, 0, 0, time.UTC))
			}
		}
	}
	for g := range 4 {
		for _, pedal := range []float64{25, 95} {
			s.shift("car a", "small", "light", g+1, 1500+20*pedal-20*float64(g), pedal)
		}
	}
	return s
}

func (s *shop) run(vehicle, platform, duty, calibration, test string, at any) string {
	s.count++
	id := fmt.Sprintf("%016x", s.count)
	s.runs.Values = append(s.runs.Values, []any{id, vehicle, platform, duty, calibration, test, "none", 99.0, at})
	return id
}

func (s *shop) shift(vehicle, platform, duty string, gear int, rpm, pedal float64) {
	id := s.run(vehicle, platform, duty, "zero", "road", nil)
	s.segments.Values = append(s.segments.Values, []any{id, int64(0), "shift", nil, false, nil, nil, int64(gear), int64(gear + 1), rpm, pedal, 1.0})
}

// pull is one with a parabola of torque; drive, exhaust and lambda follow from power by known lines.
func (s *shop) pull(vehicle, platform, duty, calibration string, nm float64, at time.Time) {
	id := s.run(vehicle, platform, duty, calibration, "sweep", at)
	s.segments.Values = append(s.segments.Values, []any{id, int64(0), "pull", int64(4), true, 30.0, 88.0, nil, nil, nil, nil, 0.0})
	state := func(axis string, bin, rpm, kw, torque float64) {
		share := kw / (nm * 0.38)
		boost := 40 + 140*share
		drive := boost * (0.7 + 1.5*share*share)
		out := 99 + 2 + 22*share
		s.curves.Values = append(s.curves.Values, []any{id, int64(0), axis, bin, int64(20), rpm, kw, torque, boost, drive, "outlet", drive / boost, drive + out - 99, out, out - 99, 0.4 * (out - 99), 1.6 - 0.4*share})
	}
	torque := func(rpm float64) float64 { return nm * (1 - 0.2*(rpm-2300)/1500*(rpm-2300)/1500) }
	top := 0.0
	power := map[float64]float64{}
	for rpm := 1525.0; rpm < 4000; rpm += 100 {
		kw := torque(rpm) * rpm / 9549.297
		state("engine_speed_rpm", rpm, rpm, kw, torque(rpm))
		top = math.Max(top, kw)
		bin := (math.Floor(kw/5) + 0.5) * 5
		if _, ok := power[bin]; !ok {
			power[bin] = rpm
		}
	}
	for bin := 2.5; bin < top; bin += 5 {
		if rpm, ok := power[bin]; ok {
			state("wheel_power_kw", bin, rpm, bin, torque(rpm))
		}
	}
}

func (s *shop) open(t *testing.T, o engine.Options) *engine.Session {
	t.Helper()
	given := map[string]engine.Rows{}
	if s.count > 0 {
		given = map[string]engine.Rows{"runs": s.runs, "segments": s.segments, "curves": s.curves, "findings": s.findings}
	}
	session, err := engine.OpenTables(t.Context(), given, o)
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

func limits() []schema.Limit {
	none := math.NaN()
	return []schema.Limit{{Column: "exhaust_gauge_kpa", Max: 20, Min: none}, {Column: "lambda_ratio", Max: none, Min: 1.25}, {Column: "drive_ratio", Max: 2, Min: none}}
}

// report writes the report of a session.
func report(t *testing.T, session *engine.Session, in Input) string {
	t.Helper()
	set, err := packs.Load("")
	if err != nil {
		t.Fatal(err)
	}
	in.Session, in.Packs, in.Limits = session, set, limits()
	var b bytes.Buffer
	if err := Write(t.Context(), &b, in); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// plainText drops tags, for what a reader sees.
func plainText(html string) string {
	var b strings.Builder
	in := false
	for _, r := range html {
		switch {
		case r == '<':
			in = true
		case r == '>':
			in = false
			b.WriteByte(' ')
		case !in:
			b.WriteRune(r)
		}
	}
	return strings.NewReplacer("\u00a0", " ", "&#43;", "+", "&#39;", "'", "&#34;", `"`).Replace(strings.Join(strings.Fields(b.String()), " "))
}
