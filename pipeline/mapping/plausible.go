package mapping

import (
	"fmt"
	"math"

	"dynolake/schema"
)

const (
	outsideTold  = 0.01 // Share of values outside a column's range that is told as a doubt.
	outsideLimit = 0.20 // Share above which the channel is taken off its column.
	zeroNoise    = 0.02 // Of the range: a sensor at rest may read so much below a range that begins at 0.
	logLimit     = 0.25 // Share of a log's claimed channels, three at the least, above which the whole log is set aside.
)

// outside is the share of a channel's values that its column cannot hold.
func (b *bench) outside(i int) float64 {
	c := b.claims[i]
	col, ok := schema.Lookup(c.Column)
	tr := b.trace(i)
	if !ok || len(tr.v) == 0 {
		return 0
	}
	shift := 0.0
	if c.AddBaro {
		shift = orStandard(b.baro.KPa)
	} else if c.TakeBaro {
		shift = -orStandard(b.baro.KPa)
	}
	if len(col.Range) != 2 {
		return 0
	}
	low := col.Range[0]
	if low == 0 {
		low = -zeroNoise * col.Range[1]
	}
	n, low, high := 0, low-shift, col.Range[1]-shift
	if tr.low >= low && tr.high <= high {
		return 0
	}
	for _, v := range tr.v {
		if v < low || v > high {
			n++
		}
	}
	return float64(n) / float64(len(tr.v))
}

// plausible sets a channel aside where many of its values lie outside what its column can hold, and doubts it where some do, or where
// a mapping has given it the column.
func (b *bench) plausible(i int) {
	c := b.claims[i]
	col, ok := schema.Lookup(c.Column)
	share := b.outside(i)
	if !ok || share <= outsideTold {
		return
	}
	tr := b.trace(i)
	text := fmt.Sprintf("%.3g %% of its values lie outside %g to %g %s (it reads %.5g to %.5g)", 100*share, col.Range[0], col.Range[1], col.Unit, tr.low, tr.high)
	switch {
	case c.Rule != "":
		b.find(i, schema.Doubt, "implausible_values", text+": kept as the mapping says; correct the mapping if it is wrong", share, "1")
	case share > outsideLimit:
		b.find(i, schema.Doubt, "implausible_values", text+": left unmapped; check the channel and its unit, or add a mapping", share, "1")
		b.aside(i, fmt.Sprintf("the name is that of %s, but %s", col.Name, text))
	default:
		b.find(i, schema.Doubt, "implausible_values", text+": kept; check the channel", share, "1")
	}
}

// logsAside sets a whole log aside where so many of its channels are implausible that the rest cannot be believed either.
func (b *bench) logsAside(before []string) {
	for l, log := range b.logs {
		claimed, bad := 0, 0
		for i, c := range b.claims {
			if c.Log == l && before[i] != "" {
				claimed++
				if c.Column == "" && b.implausible(i) {
					bad++
				}
			}
		}
		if bad < 3 || float64(bad) <= logLimit*float64(claimed) {
			continue
		}
		text := fmt.Sprintf("%d of %d channels that were understood read what no sensor of their kind does: the whole log is left unmapped; it looks simulated or wrongly scaled", bad, claimed)
		b.found = append(b.found, find(log.Source, schema.Doubt, "implausible_log", "", text, float64(bad)/float64(claimed), "1"))
		for i, c := range b.claims {
			if c.Log == l && c.Column != "" && c.Rule == "" {
				b.aside(i, fmt.Sprintf("it would be %s, but %d of the log's %d channels are implausible", c.Column, bad, claimed))
			}
		}
	}
}

// implausible reports whether a channel was set aside for its values.
func (b *bench) implausible(i int) bool {
	log, ch := b.channel(i)
	for _, f := range b.found {
		if f.Code == "implausible_values" && f.Source == log.Source && f.Channel == ch.Name {
			return true
		}
	}
	return false
}

// sentinels tells numbers that recorders write where they have none. They are told, never taken out.
func (b *bench) sentinels() {
	for i, c := range b.claims {
		col, ok := schema.Lookup(c.Column)
		if !ok || c.Lost {
			continue
		}
		values := finite(b.logs[c.Log].Series[c.Series], c.Channel)
		for _, s := range sentinelsOf(col) {
			n, nearby := 0, 0
			for _, v := range values {
				switch {
				case v == s:
					n++
				case math.Abs(v-s) < 3:
					nearby++
				}
			}
			if n >= 3 && nearby == 0 {
				b.find(i, schema.Doubt, "sentinel_value", fmt.Sprintf("it reads exactly %g in %d of %d rows and nothing near it elsewhere: a missing sensor or a full counter rather than a reading; kept as logged", s, n, len(values)), s, c.Unit)
			}
		}
	}
}

func sentinelsOf(col schema.Column) []float64 {
	switch col.Quantity {
	case "temperature":
		return []float64{-40, 215, 65535}
	case "pressure", "angular speed", "speed":
		return []float64{255, 65535, 65534, 8191.875}
	}
	return []float64{65535, 65534}
}

// throttles looks at pedals that are called a throttle: a diesel's intake flap stands open where a pedal is up.
func (b *bench) throttles() {
	for i, c := range b.claims {
		if c.Column != "pedal_pct" || c.Rule != "" {
			continue
		}
		_, ch := b.channel(i)
		words := table().canonical(tokens(ch.Name, true))
		if contains(words, "accelerator") || contains(words, "pedal") || !contains(words, "throttle") && !contains(words, "tps") {
			continue
		}
		b.claims[i].Confidence -= 0.2
		tr := b.trace(i)
		x, _, n := b.atRest(i)
		if spread := tr.quantile(0.95) - tr.quantile(0.05); len(tr.v) > 1 && (spread < 5 && tr.quantile(0.5) > 30 || n > 0 && x > 40) {
			text := "it stands open where a pedal is up: an intake flap, not the pedal; left unmapped"
			b.find(i, schema.Doubt, "throttle_no_pedal", text, tr.quantile(0.5), "%")
			b.aside(i, "the name may be that of pedal_pct, but "+text)
			continue
		}
		b.find(i, schema.Note, "throttle_as_pedal", "a throttle is taken for the pedal; add a mapping if it is the engine's intake flap", math.NaN(), "")
	}
}

// oddities tells a percentage whose values look like shares of 1, and a lambda that looks like an air-fuel ratio.
func (b *bench) oddities() {
	for i, c := range b.claims {
		col, ok := schema.Lookup(c.Column)
		if !ok || col.Quantity != "percentage" && c.Column != "lambda_ratio" {
			continue
		}
		tr := b.trace(i)
		if low := tr.quantile(0.01); c.Column == "lambda_ratio" && c.Rule == "" && low > 8 {
			b.find(i, schema.Doubt, "unit_contradicted", fmt.Sprintf("it never falls below %.3g: it looks like an air-fuel ratio rather than lambda; left unmapped, add a mapping with factor: 1 over the stoichiometric ratio of its scale, or with factor: 1 if it is lambda", low), low, "1")
			b.aside(i, "the name is that of lambda_ratio, but it reads like an air-fuel ratio: add a mapping with its factor")
			continue
		}
		if col.Quantity != "percentage" || c.Scale != 1 || c.Unit != "%" || c.Rule != "" || len(tr.v) < 5 {
			continue
		}
		if top := tr.high; top > 0.5 && top <= 1.05 && tr.low >= 0 && fractional(tr.v) {
			b.find(i, schema.Doubt, "unit_contradicted", fmt.Sprintf("stated as %%, but it never exceeds %.3g: it looks like a share of 1; kept as stated, add a mapping with factor: 100 if it is one", top), top, "%")
		}
	}
}
