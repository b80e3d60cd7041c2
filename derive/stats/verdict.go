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
