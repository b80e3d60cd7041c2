package demo

import "testing"

// A repeat has the runs of the first under other names and at other times, and all repeats together are a scenario of that scale.
func TestRepeats(t *testing.T) {
	m := Default()
	first, second := m.repeats(0, 1), m.repeats(1, 2)
	if len(first) != len(second) || len(first) != len(m.plans()) {
		t.Fatalf("%d runs, then %d, of %d", len(first), len(second), len(m.plans()))
	}
	names := map[string]bool{}
	for _, p := range append(first, second...) {
		if names[p.name()] {
			t.Errorf("run %s is there twice", p.name())
		}
		names[p.name()] = true
	}
	m.Scale = 2
	for _, p := range m.plans() {
		if !names[p.name()] {
			t.Errorf("run %s is in neither repeat", p.name())
		}
		delete(names, p.name())
	}
	if len(names) > 0 {
		t.Errorf("%d runs are in no scenario of twice the scale", len(names))
	}
}
