package schema

import (
	"math"
	"testing"
)

func TestLimitForTakesTheClosest(t *testing.T) {
	nan := math.NaN()
	limits := []Limit{
		{Column: "map_kpa", Max: 300, Min: nan, Note: "all"},
		{Column: "map_kpa", Max: 320, Min: nan, Platform: "p1", Duty: "light", Test: "sweep"},
		{Column: "map_kpa", Max: 310, Min: nan, Vehicle: "v1"},
		{Column: "map_kpa", Max: nan, Min: 80, Duty: "light", Note: "low"},
		{Column: "coolant_c", Max: 105, Min: nan},
	}
	for _, c := range []struct {
		vehicle, platform, duty, test string
		max, min                      float64
	}{
		{"v1", "p1", "light", "sweep", 310, 80},
		{"v2", "p1", "light", "sweep", 320, 80},
		{"v2", "p1", "light", "road", 300, 80},
		{"v3", "p2", "heavy", "sweep", 300, nan},
	} {
		l, ok := LimitFor(limits, "map_kpa", c.vehicle, c.platform, c.duty, c.test)
		if !ok || l.Max != c.max || (l.Min != c.min && !(math.IsNaN(l.Min) && math.IsNaN(c.min))) {
			t.Errorf("LimitFor(%s %s %s %s) = %v..%v, want %v..%v", c.vehicle, c.platform, c.duty, c.test, l.Min, l.Max, c.min, c.max)
		}
	}
	if l, _ := LimitFor(limits, "map_kpa", "v3", "p1", "light", "road"); l.Note != "all; low" {
		t.Errorf("Note = %q, want both notes", l.Note)
	}
	if _, ok := LimitFor(limits, "oil_c", "v1", "", "", ""); ok {
		t.Error("a column without a limit has one")
	}
}
