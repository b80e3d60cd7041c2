package readtest

import (
	"slices"
	"testing"
)

// Beside times a work and its peer in rounds of one of each and reports how often ours goes into the peer's processor time: the median of
// the rounds, the least and the most. Other work on the machine disturbs the ratio of a round less than either time.
func Beside(b *testing.B, ours, peer func() error) {
	b.Helper()
	var ratios []float64
	for b.Loop() {
		mine := spent(b, ours)
		ratios = append(ratios, spent(b, peer)/mine)
	}
	slices.Sort(ratios)
	b.ReportMetric(ratios[len(ratios)/2], "x-peer")
	b.ReportMetric(ratios[0], "x-least")
	b.ReportMetric(ratios[len(ratios)-1], "x-most")
}

// spent is the processor time that a work takes, s.
func spent(b *testing.B, work func() error) float64 {
	b.Helper()
	was := processor()
	if err := work(); err != nil {
		b.Fatal(err)
	}
	return processor() - was
}
