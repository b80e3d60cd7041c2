package mapping

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// airUnits are the units that a pressure near barometric is logged in.
var airUnits = [...]string{"kPa", "psi", "bar", "mbar", "inHg", "mmHg"}

// likeUnits lists the units in which a bare number would be barometric, within 4 kPa of what is known of it.
func likeUnits(number, baro float64) []string {
	low, high := 85.0, 106.0
	if !math.IsNaN(baro) {
		low, high = baro-4, baro+4
	}
	var out []string
	for _, name := range airUnits {
		u, _ := schema.ParseUnit(name)
		if x := number * u.Factor; x >= low && x <= high {
			out = append(out, name)
		}
	}
	return out
}

// unitOf looks whether a pressure's unit, stated or not, stands with its values. It reports whether the claim still holds.
func (b *bench) unitOf(i int, col schema.Column) bool {
	c := &b.claims[i]
	if c.Rule != "" {
		return true
	}
	tr := b.trace(i)
	if len(tr.v) == 0 {
		return true
	}
	x, _, n := b.atRest(i)
	if c.Unit != "" {
		return b.unitHolds(i, col, x, n)
	}
	low, high := tr.low, tr.quantile(0.99)
	if n > 0 {
		if like := likeUnits(x, b.baro.KPa); len(like) == 1 {
			b.assume(i, like[0], fmt.Sprintf("it reads %.4g at rest, which is barometric in it and in no other", x))
			return true
		}
	}
	if high > kPaLeast(col, low) && col.Plausible(high) && low > -30 {
		b.assume(i, "kPa", fmt.Sprintf("%.4g to %.4g is plausible in it", low, high))
		return true
	}
	text := fmt.Sprintf("no unit, and %.4g to %.4g may be several: left unmapped; add a mapping with its unit", low, high)
	b.find(i, schema.Doubt, "unit_missing", text, high, "")
	b.aside(i, fmt.Sprintf("the name is that of %s; %s", col.Name, text))
	return false
}

// kPaLeast is what a pressure without a unit must exceed to be in kPa and no other. One that never falls below 60 is absolute and
// no psi or bar; else psi reach about 120 before a turbine, 100 as oil and 60 elsewhere, and an exhaust system's are small in any
// unit: common practice, no source.
func kPaLeast(col schema.Column, low float64) float64 {
	switch {
	case col.Reference == schema.Absolute && low > 60:
		return 60
	case col.Name == "exhaust_total_kpa":
		return math.Inf(1)
	}
	return 150
}

// unitHolds tells a pressure whose values, with the engine at rest, are barometric in another unit than the stated one.
func (b *bench) unitHolds(i int, col schema.Column, x float64, n int) bool {
	c := &b.claims[i]
	tr := b.trace(i)
	if n == 0 || col.Reference != schema.Absolute || math.Abs(x-b.baro.KPa) <= 2*restTolerance || c.Scale == 0 {
		return true
	}
	high := tr.quantile(0.99)
	for _, like := range likeUnits((x-c.Offset)/c.Scale, b.baro.KPa) {
		u, _ := schema.ParseUnit(like)
		if top := high / c.Scale * u.Factor; like == c.Unit || top > 700 || (math.Abs(x) <= restTolerance && tr.low < x/2) {
			continue // What falls to zero is a gauge pressure with an offset.
		}
		text := fmt.Sprintf("stated as %s, but it reads %.4g at rest, which is barometric in %s: left unmapped; add a mapping with unit: %s", c.Unit, (x-c.Offset)/c.Scale, like, like)
		b.find(i, schema.Doubt, "unit_contradicted", text, (x-c.Offset)/c.Scale, c.Unit)
		b.aside(i, fmt.Sprintf("the name is that of %s; %s", col.Name, text))
		return false
	}
	return true
}

// assume takes a unit for a channel without one, and tells it.
func (b *bench) assume(i int, unit, why string) {
	c := &b.claims[i]
	u, _ := schema.ParseUnit(unit)
	c.Scale, c.Unit = u.Factor, unit
	c.Confidence -= 0.1
	c.Why += fmt.Sprintf(", no unit: %s assumed, since %s", unit, why)
	b.find(i, schema.Note, "unit_assumed", fmt.Sprintf("no unit: %s assumed, since %s; add a mapping with its unit if it is not", unit, why), u.Factor, unit)
	b.forget(i)
}

// baros reads barometric channels, which are absolute by nature; one without a unit by the only unit that it can be.
func (b *bench) baros() {
	for i, c := range b.claims {
		if c.Column != "baro_kpa" {
			continue
		}
		tr := b.trace(i)
		m := median(tr.v)
		b.claims[i].Reference = schema.Absolute
		if c.Unit != "" || c.Rule != "" || len(tr.v) == 0 {
			continue
		}
		like := likeUnits(m, math.NaN())
		if len(like) != 1 {
			text := fmt.Sprintf("no unit, and %.4g is barometric in none or in several: left unmapped; add a mapping with its unit", m)
			b.find(i, schema.Doubt, "unit_missing", text, m, "")
			b.aside(i, "the name is that of baro_kpa; "+text)
			continue
		}
		b.assume(i, like[0], fmt.Sprintf("%.4g is barometric in it and in no other", m))
	}
}

// railLeast is the least pressure, kPa, that a common rail's channel reaches somewhere in a log of a running engine: idling needs
// about 25 MPa (common practice, no source). What never does is a feed pressure or in another unit.
const railLeast = 5000.0

// rail looks whether a rail pressure is one. Absolute or gauge is immaterial.
func (b *bench) rail(i int, col schema.Column) {
	c := b.claims[i]
	tr := b.trace(i)
	if c.Rule != "" || len(tr.v) == 0 {
		return
	}
	high := tr.quantile(0.99)
	switch {
	case c.Unit == "" && high > 40000 && col.Plausible(high):
		b.assume(i, "kPa", fmt.Sprintf("it reaches %.4g, which a rail does in no other", high))
	case c.Unit == "":
		text := fmt.Sprintf("no unit, and a rail pressure of at most %.4g may be several: left unmapped; add a mapping with its unit", high)
		b.find(i, schema.Doubt, "unit_missing", text, high, "")
		b.aside(i, "the name is that of "+col.Name+"; "+text)
	case high < railLeast && b.runs(c.Log):
		text := fmt.Sprintf("the engine runs, but it reaches no more than %.4g kPa: a feed pressure or another unit; left unmapped, add a mapping with its unit", high)
		b.find(i, schema.Doubt, "unit_contradicted", text, high, "kPa")
		b.aside(i, "the name is that of "+col.Name+"; "+text)
	}
}

// runs reports whether the engine turns somewhere in a log.
func (b *bench) runs(log int) bool {
	i := b.nearby("engine_speed_rpm", log)
	return i >= 0 && b.trace(i).quantile(0.9) > idleFrom
}

// difference looks whether a filter's pressure loss is one: before the filter alone it would read barometric at rest.
func (b *bench) difference(i int) {
	c := b.claims[i]
	if len(b.trace(i).v) == 0 {
		return
	}
	if x, _, n := b.atRest(i); n > 0 && x > 50 && math.Abs(x-orStandard(b.baro.KPa)) <= 2*restTolerance && c.Rule == "" {
		text := fmt.Sprintf("it reads %.4g kPa at rest, which is barometric: the pressure at one side of the filter, not its loss; left unmapped", x)
		b.find(i, schema.Doubt, "reference_contradicted", text, x, "kPa")
		b.aside(i, "the name is that of dpf_delta_kpa; "+text)
		return
	}
	if c.Unit == "" && c.Rule == "" {
		text := fmt.Sprintf("no unit, and %.4g to %.4g may be several: left unmapped; add a mapping with its unit", b.trace(i).low, b.trace(i).quantile(1))
		b.find(i, schema.Doubt, "unit_missing", text, b.trace(i).quantile(1), "")
		b.aside(i, "the name is that of dpf_delta_kpa; "+text)
	}
}

func orStandard(baro float64) float64 {
	if math.IsNaN(baro) {
		return 101.325
	}
	return baro
}
