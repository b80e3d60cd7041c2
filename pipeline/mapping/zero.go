package mapping

import (
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// What a pressure's zero is judged by (common practice, no source).
const (
	zeroValues = 5    // Values at rest that tell a zero.
	zeroDoubt  = 3.0  // kPa beyond which a zero is a doubt.
	zeroMost   = 20.0 // kPa beyond which none is taken off: a sensor that is so far off is broken, or is another.
)

// zero is what a pressure reads at rest less what it should.
type zero struct {
	offset, spread float64 // kPa; the spread is 1.4826 times the median deviation.
	n              int
}

// Zeros tells what each pressure reads at key-on (engine stopped) and at idle against barometric, or against nothing where it is a
// difference, and takes it off where a mapping or the sheet asks for that. Claims are those of ByEvidence and are not changed; new ones
// are given back. What is archived stays as logged.
func Zeros(logs []schema.Log, claims []schema.Claim, shifts []float64, ctx Context, baro Baro) ([]schema.Claim, []schema.Finding) {
	b := newBench(logs, claims, shifts, ctx)
	asked, err := ParseZeros(ctx.Sheet.Zero)
	if err != nil {
		asked = nil // The sheet's reader has refused it by then.
	}
	for i, c := range claims {
		if c.Lost || !slices.Contains(zeroed(), c.Column) {
			continue
		}
		stopped, idle := b.zeroAt(i, true, baro), b.zeroAt(i, false, baro)
		if baro.Assumed && b.expected(i, baro) != 0 {
			stopped, idle = zero{}, zero{}
		}
		ask, by := c.Zero, "the mapping at "+c.Rule
		if ask == nil {
			if a, ok := asked.of(c.Column); ok {
				ask, by = &a, "the run sheet"
			}
		}
		if ask != nil && *ask == (schema.ZeroAsk{}) {
			ask = nil
		}
		left := "; it is left as it is, unless a mapping or the run sheet asks for zero: key-on"
		if ask != nil {
			left = ", as logged"
		}
		b.tellZero(i, stopped, baro, "sensor_zero", "with the engine stopped", left)
		b.tellZero(i, idle, baro, "sensor_zero_idle", "at idle, where flow counts in it too,", left)
		if ask != nil {
			b.takeZero(i, *ask, by, stopped)
		}
	}
	return b.claims, b.found
}

// expected is what a channel should read at rest, before barometric is added or taken off.
func (b *bench) expected(i int, baro Baro) float64 {
	c := b.claims[i]
	col, _ := schema.Lookup(c.Column)
	if c.TakeBaro || col.Reference == schema.Absolute && !c.AddBaro {
		return baro.KPa
	}
	return 0
}

func (b *bench) zeroAt(i int, stop bool, baro Baro) zero {
	v := b.restValues(i, stop)
	if len(v) < zeroValues {
		return zero{}
	}
	middle := median(v)
	z := zero{offset: middle - b.expected(i, baro), n: len(v)}
	away := make([]float64, len(v))
	for k := range v {
		away[k] = math.Abs(v[k] - middle)
	}
	z.spread = 1.4826 * median(away)
	return z
}

func (b *bench) tellZero(i int, z zero, baro Baro, code, where, left string) {
	if z.n == 0 {
		return
	}
	_, ch := b.channel(i)
	against := "nothing, as it is a difference"
	if col, _ := schema.Lookup(b.claims[i].Column); col.Reference == schema.Absolute || b.claims[i].TakeBaro {
		against = fmt.Sprintf("barometric, %.2f kPa from %s", baro.KPa, baro.From)
	}
	severity := schema.Note
	if code == "sensor_zero" && math.Abs(z.offset) > zeroDoubt {
		severity = schema.Doubt
	}
	b.zeroFinding(i, severity, code, fmt.Sprintf("%q reads %+.3g kPa %s against %s (the median of %d values, spread %.2g kPa)%s", ch.Name, z.offset, where, against, z.n, z.spread, left), z.offset)
}

// zeroFinding is a finding on the column, so that runs can be compared whatever their recorders call it.
func (b *bench) zeroFinding(i int, severity schema.Severity, code, text string, value float64) {
	log, _ := b.channel(i)
	b.found = append(b.found, find(log.Source, severity, code, b.claims[i].Column, text, value, "kPa"))
}

// takeZero moves a claim by the zero that is asked to be taken off.
func (b *bench) takeZero(i int, ask schema.ZeroAsk, by string, stopped zero) {
	_, ch := b.channel(i)
	off, how := ask.KPa, "as stated"
	if ask.KeyOn {
		off, how = stopped.offset, fmt.Sprintf("as it reads with the engine stopped (%d values)", stopped.n)
		if stopped.n == 0 {
			b.zeroFinding(i, schema.Doubt, "zero_unknown", fmt.Sprintf("%s asks for the zero of %q at key-on, and the log has no stretch with the engine stopped and barometric known: nothing is taken off; log some seconds before the start, or state a figure", by, ch.Name), math.NaN())
			return
		}
	}
	if math.Abs(off) > zeroMost {
		b.zeroFinding(i, schema.Doubt, "zero_refused", fmt.Sprintf("%s asks for the zero of %q to be taken off, and it is %.4g kPa: nothing is taken off beyond %g kPa; look at the sensor, or whether it is absolute or gauge", by, ch.Name, off, zeroMost), off)
		return
	}
	b.claims[i].Offset -= off
	b.forget(i)
	b.zeroFinding(i, schema.Note, "zero_corrected", fmt.Sprintf("%.4g kPa is taken off %q, %s, because %s asks for it; the archive and export --raw keep it as logged", off, ch.Name, how, by), off)
}
