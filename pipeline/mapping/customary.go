package mapping

import (
	"slices"

	"dynolake/schema"
)

// customary are the units that only logs in US customary units use, metric those that only others do.
var (
	customary = [...]string{"mph", "°F", "psi", "inHg", "inH2O", "lb-ft", "hp", "gal/h", "lb/min", "lb/h", "lbf"}
	metric    = [...]string{"km/h", "m/s", "°C", "kPa", "bar", "mbar", "hPa", "MPa", "N·m", "kW", "PS", "L/h", "kg/h", "N", "kN"}
)

// settleSpeeds leaves road speeds without a unit unmapped where the same log's other units are US customary: then mph is as
// likely as km/h.
func settleSpeeds(logs []schema.Log, claims []schema.Claim) {
	for l, log := range logs {
		us, si := false, false
		for i := range claims {
			if c := &claims[i]; c.Log == l && !assumed(c) {
				us = us || slices.Contains(customary[:], c.Unit)
				si = si || slices.Contains(metric[:], c.Unit)
			}
		}
		for i := range claims {
			c := &claims[i]
			col, _ := schema.Lookup(c.Column)
			if c.Log != l || col.Quantity != "speed" || !assumed(c) || !us || si {
				continue
			}
			s := log.Series[c.Series]
			v := finite(s, c.Channel)
			at := *c
			*c = unitMissing(col, log.Source, s.Channels[c.Channel].Name, slices.Max(v), "the log's other units are US customary, so that it may be mph or km/h")
			c.Log, c.Series, c.Channel = at.Log, at.Series, at.Channel
		}
	}
}

// assumed reports a claim whose unit was taken for want of one.
func assumed(c *schema.Claim) bool {
	return slices.ContainsFunc(c.Guesses, func(f schema.Finding) bool { return f.Code == "unit_assumed" && f.Severity == schema.Doubt })
}
