package night

import (
	"fmt"
	"slices"
	"testing"
)

// A stretch has few pairs, or one vehicle of many; the vehicles stay in order, and each has all of its pairs in one stretch.
func TestStretches(t *testing.T) {
	vehicles, of := []string{}, map[string][]pair{}
	put := func(v string, pairs ...pair) { vehicles, of[v] = append(vehicles, v), pairs }
	for i := range 9 { // As a shop that names each vehicle's calibrations alike.
		put(fmt.Sprintf("a%d", i), pair{"stock", "one"}, pair{"one", "two"}, pair{"two", "three"})
	}
	for i := range 9 { // As one that names each by itself.
		put(fmt.Sprintf("b%d", i), pair{fmt.Sprint(i, "-1"), fmt.Sprint(i, "-2")}, pair{fmt.Sprint(i, "-2"), fmt.Sprint(i, "-3")})
	}
	var many []pair
	for i := range 3 * together {
		many = append(many, pair{fmt.Sprint(i), fmt.Sprint(i + 1)})
	}
	put("c", many...)
	list := stretches(vehicles, of)
	var order []string
	for _, f := range list {
		var here []string
		for _, v := range vehicles {
			n := 0
			for p, on := range f {
				if slices.Contains(on, v) {
					n++
					if !slices.Contains(of[v], p) {
						t.Errorf("%s is asked of %v, which it has not", v, p)
					}
				}
			}
			if n > 0 && n != len(of[v]) {
				t.Errorf("%s has %d of its %d pairs in one stretch", v, n, len(of[v]))
			}
			if n > 0 {
				here = append(here, v)
			}
		}
		if len(f) > together && len(here) > 1 {
			t.Errorf("%d pairs of %q", len(f), here)
		}
		order = append(order, here...)
	}
	if !slices.Equal(order, vehicles) {
		t.Errorf("stretches of %q, want %q", order, vehicles)
	}
	if len(list) != 1+5+1 { // Three pairs for nine vehicles; four, of two vehicles, at a time; one that has more by itself.
		t.Errorf("%d stretches", len(list))
	}
	if stretches(nil, nil) != nil {
		t.Error("a stretch of no vehicle")
	}
}
