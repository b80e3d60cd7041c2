package pipeline

import (
	"runtime/debug"
	"testing"
)

// Garbage beside what is held stays within the slack or within half of it.
func TestPace(t *testing.T) {
	last := paceMost
	for held := int64(0); held < 4<<30; held += 1 << 20 {
		percent := paceFor(held)
		if percent < paceLeast || percent > last {
			t.Fatalf("%d bytes held: %d %%, after %d", held, percent, last)
		}
		if garbage := int64(percent) * (paceBase + held) / 100; garbage > paceSlack && percent > paceLeast {
			t.Fatalf("%d bytes held: %d %% are %d bytes of garbage, want at most %d", held, percent, garbage, paceSlack)
		}
		last = percent
	}
	was := debug.SetGCPercent(100)
	defer debug.SetGCPercent(was)
	var p pace
	p.take(1 << 30)
	if got := debug.SetGCPercent(100); got != paceLeast {
		t.Errorf("a GiB held: %d %%, want %d", got, paceLeast)
	}
}
