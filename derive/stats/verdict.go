package stats

// Verdict is what an interval of a difference lets one say.
type Verdict string

// A Verdict is one of these. Mixed is of a whole curve alone: more in some bins, less in others.
const (
	Gain  Verdict = "gain"
	Loss  Verdict = "loss"
	Mixed Verdict = "gain and loss"
	Open  Verdict = "no difference shown"
)

// Verdict is Gain where the whole interval lies above 0, Loss where it lies below, else Open; also without an interval.
func (i Interval) Verdict() Verdict {
	switch {
	case i.Lo > 0:
		return Gain
	case i.Hi < 0:
		return Loss
	}
	return Open
}

// Verdict is the one word for the whole curve. It is Gain or Loss where the pulls' means over the shared bins differ or the band leaves
// 0 on that side, and Mixed where the band leaves it on both, or on the other side than the mean. Mean and band are each given half of
// the 5 %, so that of equal calibrations it says Open in at least 95 of 100 comparisons. The mean alone finds an even difference best
// and is blind to one that changes sign, which the band finds.
func (c Comparison) Verdict() Verdict {
	v, _ := where(c.wider)
	m := c.Mean.Interval((1 + c.level) / 2).Verdict()
	switch {
	case m == Open || m == v:
		return v
	case v == Open:
		return m
	}
	return Mixed
}

// Where is what the simultaneous band shows: Gain or Loss where it leaves 0 on one side, Mixed where on both, and in which bins.
func (c Comparison) Where() (v Verdict, bins []int) { return where(c.Band) }

func where(band []Interval) (v Verdict, bins []int) {
	v = Open
	for i, b := range band {
		w := b.Verdict()
		if w == Open {
			continue
		}
		if bins = append(bins, i); v == Open {
			v = w
		} else if v != w {
			v = Mixed
		}
	}
	return v, bins
}
