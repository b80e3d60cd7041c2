package mapping

import (
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// quantile is the value below which a share q of a sorted list lies; NaN of none.
func quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	return sorted[int(q*float64(len(sorted)-1)+0.5)]
}

// withoutUnit decides what a channel's bare numbers are. The stored unit is assumed only where the values are plausible in it,
// and the assumption is a finding. Temperatures, pressures, powers and torques wait for better evidence. Flows and forces are logged
// in several units of like size, so theirs stay open.
func withoutUnit(claim *schema.Claim, col schema.Column, source, name string, values []float64) {
	v := slices.Clone(values)
	slices.Sort(v)
	low, high := quantile(v, 0.01), quantile(v, 0.99)
	switch {
	case len(v) == 0:
		return // Texts alone.
	case col.Quantity == "temperature" || col.Quantity == "pressure" || col.Quantity == "power" || col.Quantity == "torque":
		claim.Confidence -= 0.1
		return
	case col.Quantity == "mass flow" || col.Quantity == "force":
		*claim = unitMissing(col, source, name, high, fmt.Sprintf("%.4g to %.4g may be in several", low, high))
		return
	case col.Quantity == "ratio" || col.Quantity == "count":
		claim.Unit = "1"
		return
	case col.Quantity == "percentage" && high > 0 && low >= 0 && v[len(v)-1] <= 1.05 && fractional(v):
		claim.Scale, claim.Unit = 100, "1"
		claim.Confidence -= 0.2
		claim.Guesses = append(claim.Guesses, find(source, schema.Doubt, "unit_assumed", name,
			fmt.Sprintf("no unit, and values of at most %.3g: taken as a share of 1; add a mapping with its unit if it is not", v[len(v)-1]), 100, "%"))
		return
	}
	if !col.Plausible(low) || !col.Plausible(high) || tooSmall(col, high) {
		*claim = unitMissing(col, source, name, high, fmt.Sprintf("%.4g to %.4g is not plausible in %s", low, high, col.Unit))
		return
	}
	claim.Unit = col.Unit
	claim.Confidence -= 0.2
	claim.Why += fmt.Sprintf(", no unit: %s assumed, in which %.4g to %.4g is plausible", col.Unit, low, high)
	claim.Guesses = append(claim.Guesses, find(source, assumption(col), "unit_assumed", name,
		fmt.Sprintf("no unit: %s assumed, in which %.4g to %.4g is plausible; add a mapping with its unit if it is not", col.Unit, low, high), high, col.Unit))
}

// unitMissing leaves a channel without a unit unmapped, and says what would help.
func unitMissing(col schema.Column, source, name string, high float64, why string) schema.Claim {
	return schema.Claim{Scale: 1, Why: fmt.Sprintf("the name is that of %s, but there is no unit and %s: add a mapping with its unit", col.Name, why),
		Guesses: []schema.Finding{find(source, schema.Doubt, "unit_missing", name, fmt.Sprintf("no unit, and %s: left unmapped; add a mapping with its unit", why), high, "")}}
}

// assumption is how grave an assumed unit is: a doubt where the trade uses several of like size.
func assumption(col schema.Column) schema.Severity {
	switch col.Quantity {
	case "speed":
		return schema.Doubt
	}
	return schema.Note
}

func fractional(v []float64) bool {
	n := 0
	for _, x := range v {
		if x != math.Trunc(x) {
			n++
		}
	}
	return 20*n > len(v)
}

// tooSmall tells an engine speed in thousands from one in rpm: no running engine turns below 100.
func tooSmall(col schema.Column, high float64) bool {
	return col.Name == "engine_speed_rpm" && high > 0 && high < 100
}

// warm is where a column's temperatures end up in a warm vehicle, °C. A reading in it that is none when read as °F, or the other
// way about, tells the unit: common practice, no source.
var warm = map[string][2]float64{"coolant_c": {72, 118}, "oil_c": {75, 150}, "trans_c": {65, 130}}

// settleTemperatures reads temperatures without a unit. A warm engine's coolant or oil tells °C from °F, and the other bare
// temperatures of the same log follow it; without such evidence they stay unmapped.
func settleTemperatures(logs []schema.Log, claims []schema.Claim) {
	for l := range logs {
		var open []int
		votes := map[string]int{}
		for i, c := range claims {
			col, _ := schema.Lookup(c.Column)
			if c.Log != l || col.Quantity != "temperature" || c.Unit != "" {
				continue
			}
			open = append(open, i)
			v := finite(logs[l].Series[c.Series], c.Channel)
			slices.Sort(v)
			if u := warmUnit(c.Column, quantile(v, 0.9)); u != "" {
				votes[u]++
			}
		}
		unit := ""
		if len(votes) == 1 {
			for u := range votes {
				unit = u
			}
		}
		for _, i := range open {
			settleTemperature(logs[l], &claims[i], unit)
		}
	}
}

func warmUnit(column string, high float64) string {
	band, ok := warm[column]
	switch {
	case !ok || math.IsNaN(high):
		return ""
	case high >= band[0] && high <= band[1]:
		return "°C"
	case high >= band[0]*1.8+32 && high <= band[1]*1.8+32:
		return "°F"
	}
	return ""
}

func settleTemperature(log schema.Log, c *schema.Claim, unit string) {
	name := log.Series[c.Series].Channels[c.Channel].Name
	v := finite(log.Series[c.Series], c.Channel)
	slices.Sort(v)
	high := quantile(v, 0.9)
	if unit == "" {
		why := fmt.Sprintf("the name is that of %s, but there is no unit and no warm coolant or oil tells °C from °F: add a mapping with its unit", c.Column)
		*c = schema.Claim{Log: c.Log, Series: c.Series, Channel: c.Channel, Scale: 1, Why: why,
			Guesses: []schema.Finding{find(log.Source, schema.Doubt, "unit_missing", name, why, high, "")}}
		return
	}
	u, _ := schema.ParseUnit(unit)
	col, _ := schema.Lookup(c.Column)
	conv, _ := fit(col, u, 1)
	c.Scale, c.Offset, c.Unit = conv.scale, conv.offset, unit
	text := fmt.Sprintf("no unit: %s by the coolant or oil of the same log, which is warm in no other; its own 90 %% value is %.4g", unit, high)
	c.Why += ", " + text
	c.Guesses = append(c.Guesses, find(log.Source, schema.Note, "unit_assumed", name, text, high, unit))
}
