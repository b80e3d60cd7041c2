package derive

import (
	"math"
	"testing"

	"dynolake/schema"
)

func TestRegeneratingHasHysteresis(t *testing.T) {
	var times, flag []float64
	for i := range 100 {
		times = append(times, float64(i)*0.5)
		flag = append(flag, 0)
	}
	put := func(from, to int, v float64) {
		for i := from; i < to; i++ {
			flag[i] = v
		}
	}
	put(10, 40, 0.6)
	put(20, 30, 0.3) // Between off and on: it goes on.
	put(33, 36, 0)   // 1.5 s off: flicker.
	put(60, 61, 1)   // One row: no stay.
	put(80, 90, 0.4) // Never reaches on.
	flag[50] = math.NaN()
	got := Regenerating(times, flag)
	for i, v := range got {
		want := 0.0
		if i >= 10 && i < 40 {
			want = 1
		}
		if i == 50 {
			want = math.NaN()
		}
		if v != want && !(math.IsNaN(v) && math.IsNaN(want)) {
			t.Errorf("row %d: %g, want %g", i, v, want)
		}
	}
}

// heated is a run of 600 s whose filter is hot from 200 s for as long as stated.
func heated(seconds, gain, soot float64) *schema.Frame {
	f := schema.NewFrame(make([]float64, 1200))
	in, out, mass := make([]float64, 1200), make([]float64, 1200), make([]float64, 1200)
	for i := range f.T {
		f.T[i] = float64(i) * 0.5
		out[i], in[i], mass[i] = 300, 290, 20
		if at := f.T[i] - 200; at >= 0 && at < seconds {
			in[i], out[i], mass[i] = 610, 610-gain, 20-soot*at/seconds
		} else if at >= seconds {
			mass[i] = 20 - soot
		}
	}
	f.Set("dpf_in_c", in)
	f.Set("turbine_out_c", out)
	f.Set("soot_g", mass)
	return f
}

func TestRegenerationIsInferredFromHeatAndEvidence(t *testing.T) {
	for name, c := range map[string]struct {
		seconds, gain, soot float64
		want                bool
	}{
		"fuel burns before the filter": {200, 150, 0, true},
		"soot goes away":               {200, 0, 8, true},
		"hot exhaust alone":            {200, 10, 0, false},
		"a long pull":                  {40, 10, 0, false},
		"too short":                    {40, 150, 0, false},
	} {
		f := heated(c.seconds, c.gain, c.soot)
		found := byCode(Columns(f, Context{Run: schema.Run{BaroKPa: math.NaN()}}))
		state := f.Column("regen_active_frac")
		if got := state[600] == 1; got != c.want {
			t.Errorf("%s: at 300 s %g, want %t", name, state[600], c.want)
		}
		if state[100] != 0 || state[1100] != 0 {
			t.Errorf("%s: regenerates while cold", name)
		}
		if note, ok := found["regen_inferred"]; ok != c.want || ok && (math.Abs(note.Value-c.seconds) > 1 || math.Abs(note.T0S-200) > 1) {
			t.Errorf("%s: finding %+v", name, note)
		}
	}
}
