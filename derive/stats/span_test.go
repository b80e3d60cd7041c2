package stats_test

import (
	"testing"

	"dynolake/derive/stats"

	"github.com/google/go-cmp/cmp"
)

type spans = []stats.Span

func TestHysteresis(t *testing.T) {
	for _, c := range []struct {
		name    string
		x       []float64
		on, off float64
		want    spans
	}{
		{"noise between the thresholds does not switch", []float64{0, 7, 9, 7, 6, 9, 4, 7, 9}, 8, 5, spans{{2, 6}, {8, 9}}},
		{"low side", []float64{9, 3, 1, 3, 4, 6, 1}, 2, 5, spans{{2, 5}, {6, 7}}},
		{"missing switches off", []float64{9, nan, 7, 9}, 8, 5, spans{{0, 1}, {3, 4}}},
		{"never on", []float64{7, 7}, 8, 5, nil},
		{"empty", nil, 8, 5, nil},
	} {
		if diff := cmp.Diff(c.want, stats.Hysteresis(c.x, c.on, c.off)); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

func TestSpans(t *testing.T) {
	where := stats.Where(6, func(i int) bool { return i != 2 && i != 5 })
	if diff := cmp.Diff(spans{{0, 2}, {3, 5}}, where); diff != "" {
		t.Error("where:", diff)
	}
	if diff := cmp.Diff(spans{{0, 5}}, stats.Join(where, 1)); diff != "" {
		t.Error("join:", diff)
	}
	if diff := cmp.Diff(where, stats.Join(where, 0)); diff != "" {
		t.Error("join:", diff)
	}
	if diff := cmp.Diff(spans{{3, 9}}, stats.Longer(spans{{0, 2}, {3, 9}}, 3)); diff != "" {
		t.Error("longer:", diff)
	}
	cut := stats.Without(spans{{0, 10}, {12, 20}, {30, 40}}, spans{{2, 4}, {8, 14}, {30, 40}})
	if diff := cmp.Diff(spans{{0, 2}, {4, 8}, {14, 20}}, cut); diff != "" {
		t.Error("without:", diff)
	}
}

func TestTurns(t *testing.T) {
	for _, c := range []struct {
		x    []float64
		want []stats.Turn
	}{
		{[]float64{1, 1.2, 1, 3, 2.9, 5, 4.8, 1, 1.1, 0.5}, []stats.Turn{{At: 0}, {At: 5, High: true}, {At: 9}}},
		{[]float64{5, 3, nan, 1, 4}, []stats.Turn{{At: 0, High: true}, {At: 3}, {At: 4, High: true}}},
		{[]float64{2, 1.8, 5}, []stats.Turn{{At: 1}, {At: 2, High: true}}},
		{[]float64{1, 1.5, 1}, nil},
		{[]float64{nan}, nil},
	} {
		if diff := cmp.Diff(c.want, stats.Turns(c.x, 1)); diff != "" {
			t.Errorf("%v: %s", c.x, diff)
		}
	}
}
