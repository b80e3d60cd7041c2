package packs

import (
	"fmt"
	"math"
	"testing"

	"dynolake/schema"
)

// TestLimitEdges asks for limits that are always passed, never rise, have one pull or end far below.
func TestLimitEdges(t *testing.T) {
	s := newShop(11)
	flat := func(x float64) func(float64) float64 { return func(float64) float64 { return x } }
	rising := func(kw float64) float64 { return 1 + kw*kw/600 }
	s.add(varied(light("a always"), func(c *car) { c.exhaust = flat(30) }))
	s.add(varied(light("b flat"), func(c *car) { c.exhaust = flat(5) }))
	s.add(varied(light("c single"), func(c *car) { c.exhaust, c.pulls = rising, 1 }))
	s.add(varied(light("d falls"), func(c *car) { c.exhaust = func(kw float64) float64 { return 9 - 0.05*kw } }))
	s.add(varied(light("e two"), func(c *car) { c.exhaust, c.pulls, c.soot = rising, 2, 0.01 }))
	got := map[string]map[string]any{}
	for _, r := range answers(t, s.open(t), "backpressure/limit", map[string]string{"limit_kpa": "12"}) {
		got[r["vehicle"].(string)] = r
	}
	if r := got["a always"]; r["basis"] != "measured" || r["lo95"] != nil || r["hi95"] != nil || r["note"] != "met at the lowest power measured" {
		t.Errorf("always passed: %v", r)
	}
	for _, v := range []string{"b flat", "d falls"} {
		if r := got[v]; r["basis"] != "not reachable" || r["wheel_power_kw"] != nil || r["lo95"] != nil || r["hi95"] != nil || r["n"] != int64(5) {
			t.Errorf("not reachable: %v", r)
		}
	}
	truth := math.Sqrt(11 * 600)
	for _, v := range []string{"c single", "e two"} {
		if x, ok := got[v]["wheel_power_kw"].(float64); !ok || math.Abs(x/truth-1) > 0.03 {
			t.Errorf("%s: got %v, want %.1f", v, got[v], truth)
		}
	}
	if r := got["c single"]; r["lo95"] != nil || r["hi95"] != nil || r["note"] != "one pull: no interval" {
		t.Errorf("one pull has an interval: %v", r)
	}
	if r := got["e two"]; r["lo95"] == nil {
		t.Errorf("two pulls have no interval: %v", r)
	}
}

// TestClosestLimit holds the SQL's choice of limits against schema.LimitFor, for every way of naming vehicles.
func TestClosestLimit(t *testing.T) {
	s := newShop(12)
	nan := math.NaN()
	bound := 10.0
	for mask := range 16 {
		l := schema.Limit{Column: "exhaust_gauge_kpa", Max: bound + float64(mask), Min: nan}
		for bit, set := range []func(){
			func() { l.Vehicle = "0" }, func() { l.Platform = "small" }, func() { l.Duty = "heavy" }, func() { l.Test = "sweep" },
		} {
			if mask&(1<<bit) != 0 {
				set()
			}
		}
		s.limits = append(s.limits, l)
	}
	for v, c := range []car{light(""), light(""), heavy(""), heavy("")} {
		s.add(varied(c, func(c *car) { c.vehicle, c.pulls = fmt.Sprint(v), 1 }))
	}
	for _, r := range answers(t, s.open(t), "backpressure/limit", nil) {
		duty := map[any]string{"small": "light", "large": "heavy"}[r["platform"]]
		want, _ := schema.LimitFor(s.limits, "exhaust_gauge_kpa", r["vehicle"].(string), r["platform"].(string), duty, "sweep")
		if r["limit_kpa"] != want.Max {
			t.Errorf("vehicle %v: limit %v, want %v", r["vehicle"], r["limit_kpa"], want.Max)
		}
	}
}
