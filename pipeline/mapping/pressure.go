package mapping

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

const (
	restTolerance = 6.0  // kPa from barometric or zero, with the engine stopped or idling.
	vacuum        = 15.0 // kPa; no manifold of a running engine is below it, so what is cannot be absolute.
)

// referenced reports whether a column's pressure must be told absolute from gauge. A rail's need not: barometric is less than a
// thousandth of it.
func referenced(col schema.Column) bool {
	return col.Quantity == "pressure" && col.Name != "baro_kpa" && !strings.HasPrefix(col.Name, "rail") && col.Reference != schema.Difference
}

// pressures settles every pressure: those whose header speaks first, for others lean on them.
func (b *bench) pressures() {
	b.baros()
	b.baro = b.barometric()
	for i, c := range b.claims {
		col, _ := schema.Lookup(c.Column)
		switch {
		case col.Quantity != "pressure" || col.Name == "baro_kpa":
		case strings.HasPrefix(col.Name, "rail"):
			b.rail(i, col)
		case col.Name == "dpf_delta_kpa":
			b.difference(i)
		}
	}
	for _, spoken := range []bool{true, false} {
		for i, c := range b.claims {
			col, ok := schema.Lookup(c.Column)
			if ok && referenced(col) && (c.Reference != "") == spoken && b.unitOf(i, col) {
				b.reference(i, col)
			}
		}
		if math.IsNaN(b.baro.KPa) {
			b.baro = b.barometric()
		}
	}
	b.siblings()
}

// zero is what the values at rest say of a pressure's zero, with the evidence in words; "" when they say nothing.
func (b *bench) zero(i int) (schema.Reference, string, float64) {
	x, stop, n := b.atRest(i)
	if n == 0 {
		return "", "the engine is never stopped or idling in the log", math.NaN()
	}
	state := "at idle"
	if stop {
		state = "with the engine stopped"
	}
	if idle := b.restValues(i, false); stop && len(idle) >= 2 && math.Abs(x) <= restTolerance && b.barometricLike(median(idle)) {
		if x != 0 {
			return "", fmt.Sprintf("it reads %.4g kPa %s, but %.4g, about barometric, at idle", x, state, median(idle)), x
		}
		x, state = median(idle), "at idle (its zeros before are no reading)" // Recorders write zeros before the first value.
	}
	switch baro := b.baro.KPa; {
	case math.Abs(x) <= restTolerance:
		return schema.Gauge, fmt.Sprintf("it reads %.4g kPa %s, within %g of zero", x, state, restTolerance), x
	case math.Abs(x-baro) <= restTolerance:
		return schema.Absolute, fmt.Sprintf("it reads %.4g kPa %s, within %g of barometric (%.4g, from %s)", x, state, restTolerance, baro, b.baro.From), x
	case math.IsNaN(baro) && x >= 70 && x <= 108:
		return schema.Absolute, fmt.Sprintf("it reads %.4g kPa %s, which can only be barometric", x, state), x
	case stop && b.baro.From == "the run sheet" && x >= stationLow && x <= stationHigh:
		return schema.Absolute, fmt.Sprintf("it reads %.4g kPa %s, which can only be barometric, although the run sheet says %.4g", x, state, baro), x
	default:
		return "", fmt.Sprintf("it reads %.4g kPa %s, near neither zero nor barometric (%.4g)", x, state, baro), x
	}
}

// lowest is where a channel's values begin, but for zeros, which recorders write where they have none.
func (b *bench) lowest(i int) float64 {
	v := slices.DeleteFunc(slices.Clone(b.trace(i).v), func(x float64) bool { return x == 0 })
	return ranked(v).quantile(0.02)
}

func (b *bench) barometricLike(x float64) bool {
	if math.IsNaN(b.baro.KPa) {
		return x >= 70 && x <= 108
	}
	return math.Abs(x-b.baro.KPa) <= restTolerance
}

// reference decides absolute or gauge: a mapping first, then header or unit unless the values contradict them, then the values.
func (b *bench) reference(i int, col schema.Column) {
	c := &b.claims[i]
	values, evidence, x := b.zero(i)
	if col.Name == "oil_kpa" { // An idling engine's oil pressure can equal barometric: only a stopped one tells.
		if _, stop, _ := b.atRest(i); !stop {
			values, evidence = "", "the engine is never stopped in the log"
		}
	}
	low := b.lowest(i)
	impossible := col.Reference == schema.Absolute && low < vacuum
	contradicted := c.Reference == schema.Absolute && (values == schema.Gauge || impossible) || c.Reference == schema.Gauge && values == schema.Absolute
	switch {
	case c.Rule != "" && c.Reference != "":
		if contradicted {
			b.find(i, schema.Doubt, "reference_contradicted", fmt.Sprintf("the mapping says %s, but %s: kept as the mapping says; correct the mapping if it is wrong", c.Reference, evidence), x, "kPa")
		}
		b.take(i, col, c.Reference, "the mapping says "+string(c.Reference))
	case c.Reference != "" && !contradicted:
		b.take(i, col, c.Reference, "header or unit says "+string(c.Reference))
	case c.Reference != "" && values == "":
		b.find(i, schema.Doubt, "reference_contradicted", fmt.Sprintf("header or unit says %s, but values fall to %.4g kPa, and %s: left unmapped; add a mapping with reference: absolute or gauge", c.Reference, low, evidence), low, "kPa")
		b.aside(i, fmt.Sprintf("header or unit says %s and the values contradict it", c.Reference))
	case c.Reference != "":
		b.find(i, schema.Doubt, "reference_contradicted", fmt.Sprintf("header or unit says %s, but %s: taken as %s; add a mapping with reference: %s if that is wrong", c.Reference, evidence, values, c.Reference), x, "kPa")
		b.take(i, col, values, evidence+", against its header")
	case values == schema.Absolute && impossible:
		b.find(i, schema.Doubt, "reference_unknown", fmt.Sprintf("%s, but falls to %.4g kPa, which no absolute pressure here does: left unmapped; add a mapping with reference: absolute or gauge", evidence, low), x, "kPa")
		b.aside(i, "absolute or gauge is open: add a mapping with reference: absolute or gauge")
	case values != "":
		b.find(i, schema.Note, "reference_from_values", fmt.Sprintf("taken as %s: %s", values, evidence), x, "kPa")
		b.take(i, col, values, evidence)
	default:
		b.undecided(i, col, evidence, impossible)
	}
}

// undecided leaves a pressure for its siblings where neither header nor values tell; a name that means absolute in the trade and
// an oil pressure, which is gauge in it, are taken so, and that is told.
func (b *bench) undecided(i int, col schema.Column, evidence string, impossible bool) {
	_, ch := b.channel(i)
	switch {
	case col.Name == "oil_kpa":
		b.find(i, schema.Note, "reference_assumed", "taken as gauge, as oil pressures are logged: "+evidence+"; add a mapping with reference: absolute if it is not", math.NaN(), "")
		b.take(i, col, schema.Gauge, "oil pressures are logged as gauge")
	case spelledAbsolute(ch.Name) && !impossible:
		b.find(i, schema.Note, "reference_assumed", fmt.Sprintf("taken as absolute, as %q means in the trade: %s; add a mapping with reference: gauge if it is not", ch.Name, evidence), math.NaN(), "")
		b.take(i, col, schema.Absolute, "the name means an absolute pressure in the trade")
		b.claims[i].Confidence -= 0.1
	default:
		b.claims[i].Why += "; " + evidence
	}
}

// spelledAbsolute reports whether a name stands for an absolute pressure without the word: MAP, and total boost.
func spelledAbsolute(name string) bool {
	w := tokens(name, true)
	return contains(w, "map") || slices.Equal(w, []string{"total", "boost"}) || contains(w, "imap") || contains(w, "emap")
}

// take settles a channel's reference, and with it whether barometric is added or taken off.
func (b *bench) take(i int, col schema.Column, r schema.Reference, why string) {
	c := &b.claims[i]
	c.Reference = r
	c.AddBaro = r == schema.Gauge && col.Reference == schema.Absolute
	c.TakeBaro = r == schema.Absolute && col.Reference == schema.Gauge
	c.Why += ", " + string(r) + ": " + why
}

// siblings settles what is still open by a channel of the same pressure that is settled: a boost beside the manifold's own
// pressure, a setpoint beside its measurement. What stays open is left unmapped.
func (b *bench) siblings() {
	partners := map[string][]string{"map_kpa": {"map_kpa", "compressor_out_kpa"}, "map_set_kpa": {"map_kpa", "map_set_kpa"}, "compressor_out_kpa": {"map_kpa"}}
	open := func(i int) (schema.Column, bool) {
		col, ok := schema.Lookup(b.claims[i].Column)
		return col, ok && referenced(col) && b.claims[i].Reference == ""
	}
	settled := map[int]schema.Reference{}
	why := map[int]string{}
	for i := range b.claims {
		col, ok := open(i)
		if !ok {
			continue
		}
		for _, p := range partners[col.Name] {
			if settled[i] == "" {
				settled[i], why[i] = b.beside(i, p)
			}
		}
	}
	for i := range b.claims {
		col, ok := open(i)
		switch {
		case !ok:
		case settled[i] != "":
			b.find(i, schema.Note, "reference_from_sibling", fmt.Sprintf("taken as %s: %s", settled[i], why[i]), math.NaN(), "")
			b.take(i, col, settled[i], why[i])
		default:
			_, evidence, x := b.zero(i)
			b.find(i, schema.Doubt, "reference_unknown", fmt.Sprintf("absolute or gauge cannot be told: neither header nor unit says it, and %s: left unmapped; add a mapping with reference: absolute or gauge, or log some seconds with the engine stopped", evidence), x, "kPa")
			b.aside(i, fmt.Sprintf("it would be %s, but absolute or gauge is open, since %s: add a mapping with reference: absolute or gauge", col.Name, evidence))
		}
	}
}

// beside compares an open channel with a settled one of a column, where the open one is well above zero.
func (b *bench) beside(i int, column string) (schema.Reference, string) {
	if math.IsNaN(b.baro.KPa) {
		return "", ""
	}
	tr := b.trace(i)
	for j, c := range b.claims {
		if j == i || c.Column != column || c.Reference == "" || c.Lost {
			continue
		}
		other := b.trace(j)
		var gaps []float64
		for k, t := range tr.t {
			o := other.at(t)
			if c.AddBaro {
				o += b.baro.KPa
			}
			if tr.v[k] > 5 && !math.IsNaN(o) {
				gaps = append(gaps, o-tr.v[k])
			}
		}
		_, ch := b.channel(j)
		switch m := median(gaps); {
		case len(gaps) < 5:
		case math.Abs(m-b.baro.KPa) <= 2*restTolerance:
			return schema.Gauge, fmt.Sprintf("it lies %.4g kPa, about barometric, below %q, which is settled", m, ch.Name)
		case math.Abs(m) <= 2*restTolerance:
			return schema.Absolute, fmt.Sprintf("it lies within %.3g kPa of %q, which is settled", math.Abs(m), ch.Name)
		}
	}
	return "", ""
}
