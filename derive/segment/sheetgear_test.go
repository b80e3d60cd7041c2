package segment_test

import (
	"testing"

	"dynolake/derive/segment"
)

// A sheet's gear is held against the one that was logged, which decides, and against the speed ratio, which does not.
func TestSheetGearAgainstTheLog(t *testing.T) {
	d := sweeps(lightManual, 4, 2, 0.4*lightManual.rated, lightManual.rated)
	for _, c := range []struct {
		sheet     float64
		logged    bool
		want      float64
		disagrees bool
	}{
		{4, true, 4, false}, {nan, true, 4, false}, {3, true, 4, true},
		{4, false, 4, false}, {3, false, 3, true},
	} {
		f := d.record(recorder{rate: 20, gearVia: 0.5})
		if !f.Has("gear") {
			t.Fatal("the recorder logs no gear")
		}
		if !c.logged {
			f.Drop("gear")
		}
		ctx := lightManual.context("sweep")
		ctx.Gear = c.sheet
		segments, findings := segment.Find(f, ctx)
		for _, p := range kinds(segments, "pull") {
			near(t, "gear", p.Pull.Gear, c.want, 0)
		}
		if has(findings, "gear_disagrees") != c.disagrees {
			t.Errorf("sheet %v, logged %t: findings %v", c.sheet, c.logged, findings)
		}
	}
}
