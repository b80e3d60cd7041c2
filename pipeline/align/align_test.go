package align

import (
	"math"
	"slices"
	"testing"
	"time"

	"dynolake/schema"
)

func series(t []float64, values ...[]float64) schema.Series {
	s := schema.Series{T: t, Values: values}
	for range values {
		s.Channels = append(s.Channels, schema.Channel{Name: "x"})
	}
	return s
}

func codes(found []schema.Finding) map[string]float64 {
	m := map[string]float64{}
	for _, f := range found {
		m[f.Code] = f.Value
	}
	return m
}

func wantTimes(t *testing.T, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("times %v, want %v", got, want)
	}
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-9 {
			t.Fatalf("times %v, want %v", got, want)
		}
	}
}

func TestRepairRules(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		t, v  []float64
		wantT []float64
		code  string
		value float64
	}{
		"no time":               {[]float64{0, nan, 2}, []float64{1, 2, 3}, []float64{0, 2}, "rows_without_time", 1},
		"disorder":              {[]float64{0, 0.2, 0.1, 0.3}, []float64{0, 2, 1, 3}, []float64{0, 0.1, 0.2, 0.3}, "rows_out_of_order", 1},
		"set back":              {[]float64{0, 1, 2, 3, -60, -59}, []float64{0, 1, 2, 3, 4, 5}, []float64{0, 1, 2, 3, 4, 5}, "clock_set_back", 63},
		"repeats":               {[]float64{0, 1, 1, 2}, []float64{0, 1, 1, 2}, []float64{0, 1, 2}, "repeated_rows", 1},
		"one time twice":        {[]float64{0, 1, 1, 2}, []float64{0, 1, 7, 2}, []float64{0, 1, 2}, "rows_on_one_time", 1},
		"coarse clock":          {[]float64{0, 0, 1, 1, 2, 2}, []float64{0, 1, 2, 3, 4, 5}, []float64{0, 0.5, 1, 1.5, 2, 2.5}, "coarse_clock", 1},
		"coarse, at rest first": {[]float64{0, 0, 0, 1, 1, 1, 2, 2, 2}, []float64{0, 0, 0, 0, 1, 2, 3, 4, 5}, []float64{0, 1.0 / 3, 2.0 / 3, 1, 4.0 / 3, 5.0 / 3, 2, 7.0 / 3, 8.0 / 3}, "coarse_clock", 1},
		"each row twice":        {[]float64{0, 0, 1, 1, 2, 2, 3, 3}, []float64{0, 0, 1, 1, 2, 2, 3, 3}, []float64{0, 1, 2, 3}, "repeated_rows", 4},
	} {
		t.Run(name, func(t *testing.T) {
			l := schema.Log{Series: []schema.Series{series(c.t, c.v, slices.Clone(c.v))}}
			got := codes(Repair(&l))
			wantTimes(t, l.Series[0].T, c.wantT)
			if v, ok := got[c.code]; !ok || math.Abs(v-c.value) > 1e-9 || len(got) != 1 {
				t.Errorf("findings %v, want %s = %v alone", got, c.code, c.value)
			}
			for i := 1; i < len(l.Series[0].T); i++ {
				if l.Series[0].Values[0][i] < l.Series[0].Values[0][i-1] && name != "one time twice" {
					t.Errorf("values did not move with their rows: %v", l.Series[0].Values[0])
				}
			}
		})
	}
}

// A channel with a clock of its own keeps what was logged; placed in time the later of two values wins.
func TestOneChannelKeepsItsRows(t *testing.T) {
	l := schema.Log{Series: []schema.Series{series([]float64{0, 1, 1, 2}, []float64{0, 1, 1, 2}), series([]float64{0, 0.5, 1, 1.5, 2}, []float64{0, 1, 2, 3, 4})}}
	if found := Repair(&l); len(found) != 0 || len(l.Series[0].T) != 4 {
		t.Fatalf("findings %v, rows %v; want none and all", found, l.Series[0].T)
	}
	m, err := Merge([]schema.Log{l}, []schema.Claim{{Series: 1, Column: "engine_speed_rpm", Scale: 1}, {}}, []Placement{{Placed: true}}, math.NaN())
	if err != nil || len(m.Unmapped) != 1 || len(m.Unmapped[0].T) != 4 {
		t.Errorf("unmapped %+v, %v; want the four rows as logged", m.Unmapped, err)
	}
	wantTimes(t, m.Frame.T, []float64{0, 0.5, 1, 1.5, 2})
}

func TestRepairRefusesAStoppedClock(t *testing.T) {
	l := schema.Log{Series: []schema.Series{series([]float64{0, 1, 1, 1, 1, 1}, []float64{0, 1, 2, 3, 4, 5})}}
	if got := codes(Repair(&l)); got["clock_stopped"] != 5 || len(l.Series) != 0 {
		t.Errorf("findings %v, %d series kept; want the series refused", got, len(l.Series))
	}
}

func TestRepairKeepsTextsWithTheirRows(t *testing.T) {
	s := series([]float64{0, 0.2, 0.1}, []float64{0, math.NaN(), 1})
	s.Texts = []schema.Text{{Row: 1, Text: "ON"}}
	l := schema.Log{Series: []schema.Series{s}}
	Repair(&l)
	if x := l.Series[0].Texts; len(x) != 1 || x[0].Row != 2 {
		t.Errorf("texts %v, want the text on row 2", x)
	}
}

func TestTraceStopsAtGaps(t *testing.T) {
	tr := newTrace([]float64{0, 0.1, 0.2, 2, 2.1}, []float64{0, 1, 2, 20, 21}, schema.Continuous)
	got := tr.at([]float64{-0.6, -0.4, 0.05, 0.2, 1, 2.05, 2.5, 2.7})
	want := []float64{math.NaN(), 0, 0.5, 2, math.NaN(), 20.5, 21, math.NaN()}
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-9 || math.IsNaN(got[i]) != math.IsNaN(want[i]) {
			t.Errorf("at[%d] = %v, want %v", i, got[i], want[i])
		}
	}
	state := newTrace([]float64{0, 1}, []float64{3, 4}, schema.State)
	if got := state.at([]float64{0.9})[0]; got != 3 {
		t.Errorf("a state is held: got %v, want 3", got)
	}
}

func TestTimebaseIsCarriedOn(t *testing.T) {
	fast := []float64{1, 1.1, 1.2, 1.3}
	slow := []float64{0.5, 1, 1.5, 2}
	wantTimes(t, timebase([][]float64{slow, fast}), []float64{1 - 0.5, 1, 1.1, 1.2, 1.3, 1.5, 2})
}

// A signal with the look of a drive: steps, ramps and waves that do not repeat.
func drive(x float64) float64 {
	return 800 + 500*math.Sin(x/7) + 300*math.Sin(x/3.1+1) + 900/(1+math.Exp(-(x-31)*2)) - 700/(1+math.Exp(-(x-55)*3))
}

func sampled(from, to, step, offset float64, quantum float64) schema.Series {
	var t, v []float64
	for i := 0; ; i++ {
		x := from + float64(i)*step
		if x > to {
			break
		}
		t, v = append(t, x-offset), append(v, math.Round(drive(x)/quantum)*quantum)
	}
	return series(t, v)
}

func speedClaims() []schema.Claim {
	return []schema.Claim{{Column: "engine_speed_rpm", Scale: 1, Confidence: 1}, {Log: 1, Column: "engine_speed_rpm", Scale: 1, Confidence: 1}}
}

func TestPlaceFindsTheShift(t *testing.T) {
	for _, shift := range []float64{0, 3.37, -12.04} {
		logs := []schema.Log{
			{Source: "dyno.csv", Series: []schema.Series{sampled(0, 90, 0.02, 0, 0.25)}},
			{Source: "scan.csv", Series: []schema.Series{sampled(10, 80, 0.23, shift, 4)}},
		}
		places, found := Place(logs, speedClaims(), time.UTC)
		if !places[1].Placed || math.Abs(places[1].Shift-shift) > 0.02 {
			t.Errorf("shift %v: placed %+v (%s)", shift, places[1], found[0].Text)
		}
	}
}

func TestPlaceRefusesAnotherDrive(t *testing.T) {
	other := sampled(0, 60, 0.1, 0, 1)
	for i := range other.T {
		other.Values[0][i] = 1000 + 400*math.Sin(float64(i)/9)
	}
	logs := []schema.Log{{Source: "a", Series: []schema.Series{sampled(0, 60, 0.1, 0, 1)}}, {Source: "b", Series: []schema.Series{other}}}
	claims := speedClaims()
	places, found := Place(logs, claims, time.UTC)
	if places[1].Placed || codes(found)["not_aligned"] == 0 && found[0].Code != "not_aligned" {
		t.Errorf("placed %+v, findings %v; want a refusal", places[1], found)
	}
	m, err := Merge(logs, claims, places, math.NaN())
	if err != nil || len(m.Unmapped) != 1 || m.Unmapped[0].Source != "b" {
		t.Errorf("an unplaced log stays in unmapped: %v, %v", m.Unmapped, err)
	}
}

// The lag of the shifted sequence and its coefficient follow from the definition: Σ a² = 19 at three steps, r = 1.
func TestMaskedCorrelationOfAShiftedSequence(t *testing.T) {
	a := []float64{0, 0, 1, 2, 3, 2, 1, 0, 0, 0, 0, 0}
	b := append(make([]float64, 3), a[:9]...)
	on := make([]float64, len(a))
	for i := range on {
		on[i] = 1
	}
	r, _ := masked(grid{v: b, on: on}, grid{v: a, on: on}, 5)
	best := 0
	for i := range r {
		if r[i] > r[best] {
			best = i
		}
	}
	if lag := best - (len(a) - 1); lag != 3 || math.Abs(r[best]-1) > 1e-9 {
		t.Errorf("lag %d, r %v; want 3 and 1", lag, r[best])
	}
}

func TestMergeKeepsTheRowsOfOneClock(t *testing.T) {
	nan := math.NaN()
	logs := []schema.Log{{Series: []schema.Series{series([]float64{5, 5.13, 5.2}, []float64{1, nan, 3}, []float64{25, 26, 27})}}}
	claims := []schema.Claim{{Column: "engine_speed_rpm", Scale: 1}, {Channel: 1, Column: "map_kpa", Scale: 6.894757293168361, AddBaro: true}}
	m, err := Merge(logs, claims, []Placement{{Placed: true}}, 100)
	if err != nil {
		t.Fatal(err)
	}
	wantTimes(t, m.Frame.T, []float64{0, 0.13, 0.2})
	if v := m.Frame.Column("engine_speed_rpm"); v[0] != 1 || !math.IsNaN(v[1]) || v[2] != 3 {
		t.Errorf("engine speed %v, want 1, missing, 3", v)
	}
	if v := m.Frame.Column("map_kpa"); math.Abs(v[0]-(100+172.369)) > 1e-3 { // 25 psi, NIST SP 811.
		t.Errorf("map %v, want 272.369", v[0])
	}
}

func TestMergeKeepsTextsThatNoStateReads(t *testing.T) {
	s := series([]float64{0, 1, 2}, []float64{1, math.NaN(), math.NaN()})
	s.Texts = []schema.Text{{Row: 1, Text: "R"}, {Row: 2, Text: "fault"}}
	m, err := Merge([]schema.Log{{Series: []schema.Series{s}}}, []schema.Claim{{Column: "gear", Scale: 1, States: map[string]float64{"R": -1}}}, []Placement{{Placed: true}}, math.NaN())
	if err != nil {
		t.Fatal(err)
	}
	if g := m.Frame.Column("gear"); g[1] != -1 || !math.IsNaN(g[2]) {
		t.Errorf("gear %v, want 1, -1, missing", g)
	}
	if len(m.Unmapped) != 1 || len(m.Unmapped[0].T) != 1 || m.Unmapped[0].Texts[0] != "fault" {
		t.Errorf("unmapped %+v, want the text fault at 2 s", m.Unmapped)
	}
}

// Three pulls that look alike but for a few rpm: the lag is sure, as any other leaves many times as much unexplained. Pulls that
// are the same leave it open, and noise as large as what tells them apart does too.
func TestPlaceTellsLikePullsApart(t *testing.T) {
	for name, c := range map[string]struct {
		differ, noise float64
		placed        bool
	}{
		"alike":         {differ: 60, placed: true},
		"alike, noisy":  {differ: 60, noise: 5, placed: true},
		"the same":      {differ: 0},
		"lost in noise": {differ: 2, noise: 60},
	} {
		t.Run(name, func(t *testing.T) {
			speed := func(at float64) float64 { // A pull every 40 s, the same speeds but for their last part.
				k, u := math.Floor(at/40), math.Mod(at, 40)
				return 800 + 90*math.Max(0, math.Min(u, 30)-5) + c.differ*k*math.Max(0, math.Min(u-20, 10))/10
			}
			record := func(from, to, rate, offset, seed float64) schema.Log {
				var ts, v []float64
				for i := 0; from+float64(i)/rate < to; i++ {
					at := from + float64(i)/rate
					ts = append(ts, at-offset)
					v = append(v, speed(at)+c.noise*math.Sin(seed*float64(i*i)))
				}
				return schema.Log{Source: "log", Series: []schema.Series{series(ts, v)}}
			}
			logs := []schema.Log{record(0, 160, 25, 0, 0.7), record(1, 158, 10, 12.3, 1.1)}
			claims := []schema.Claim{{Log: 0, Column: "engine_speed_rpm", Scale: 1, Confidence: 1}, {Log: 1, Column: "engine_speed_rpm", Scale: 1, Confidence: 1}}
			places, found := Place(logs, claims, time.UTC)
			if places[1].Placed != c.placed {
				t.Fatalf("placed %v, want %v: %v", places[1].Placed, c.placed, found)
			}
			if c.placed && math.Abs(places[1].Shift-12.3) > 0.02 {
				t.Errorf("shift %v, want 12.3", places[1].Shift)
			}
		})
	}
}
