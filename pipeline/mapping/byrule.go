package mapping

import (
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// byRule makes the claim that a user's mapping decides.
func (n namer) byRule(r Rule, log schema.Log, s schema.Series, c int) schema.Claim {
	ch := s.Channels[c]
	claim := schema.Claim{Scale: 1, Rule: r.At.String()}
	if r.Ignore {
		claim.Why = "left out by the mapping at " + claim.Rule
		return claim
	}
	col, _ := schema.Lookup(r.Column)
	claim.Column, claim.Confidence, claim.Reference = col.Name, 1, r.Reference
	claim.Zero = r.Zero
	claim.Why = "decided by the mapping at " + claim.Rule
	if len(r.States) > 0 || col.Kind == schema.State {
		claim.States, _ = states(col.Name, texts(s, c))
		for _, text := range texts(s, c) {
			if v, ok := r.States[strings.ToLower(strings.TrimSpace(text))]; ok {
				if claim.States == nil {
					claim.States = map[string]float64{}
				}
				claim.States[text] = v
			}
		}
	}
	unit, known := r.Unit, r.Unit.Name != ""
	logged, readable := schema.ParseUnit(ch.Unit)
	if unstated(ch.Unit) {
		readable = false
	}
	switch {
	case known && readable && logged.Name != unit.Name:
		claim.Guesses = append(claim.Guesses, find(log.Source, schema.Note, "unit_overridden", ch.Name,
			fmt.Sprintf("logged as %s, read as %s by the mapping at %s", logged.Name, unit.Name, claim.Rule), math.NaN(), ""))
	case !known && r.Factor == 1 && r.Offset == 0:
		unit, known = n.loggedUnit(ch, col)
	}
	conv := conversion{scale: 1}
	density, whence := n.ctx.density()
	if known {
		if f, ok := fit(col, unit, density); ok {
			conv, claim.Unit = f, unit.Name
		} else {
			claim.Guesses = append(claim.Guesses, find(log.Source, schema.Doubt, "unit_contradicted", ch.Name,
				fmt.Sprintf("logged as %s, which is no %s: taken as %s, since the mapping at %s states no unit", unit.Name, col.Quantity, col.Unit, claim.Rule), math.NaN(), ""))
		}
	}
	if claim.Unit == "" {
		claim.Unit = col.Unit
	}
	if claim.Reference == "" && col.Quantity == "pressure" {
		claim.Reference = n.saidByHeader(ch, col, unit)
	}
	claim.Scale, claim.Offset = r.Factor*conv.scale, r.Offset*conv.scale+conv.offset
	if conv.density {
		claim.Guesses = append(claim.Guesses, find(log.Source, schema.Note, "density_used", ch.Name,
			fmt.Sprintf("a volume of fuel became a mass with %.4g kg/L, %s", density, whence), density, "kg/L"))
	}
	return claim
}

// loggedUnit is the unit beside a channel or in its name, for a mapping that states none.
func (n namer) loggedUnit(ch schema.Channel, col schema.Column) (schema.Unit, bool) {
	senses, _ := n.index.senses(ch)
	for _, s := range senses {
		if _, ok := fit(col, s.unit, 1); ok && s.stated {
			return s.unit, true
		}
	}
	u, ok := schema.ParseUnit(ch.Unit)
	return u, ok && !unstated(ch.Unit) && !dimensionless(u)
}

// saidByHeader is what a header says of a pressure's zero, for a mapping that says nothing of it.
func (n namer) saidByHeader(ch schema.Channel, col schema.Column, unit schema.Unit) schema.Reference {
	if unit.Reference != "" {
		return unit.Reference
	}
	senses, _ := n.index.senses(ch)
	for _, s := range senses {
		if r := said(s, col); r != "" {
			return r
		}
	}
	return ""
}
