package mapping

import (
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// own is the measured column whose name in the lake a header is, but for case, as in what the lake exports: the name says the unit, and of a
// pressure whether it is absolute. A unit beside it that is another than the column's speaks against it.
func own(ch schema.Channel) (schema.Column, bool) {
	col, ok := schema.Lookup(strings.ToLower(strings.TrimSpace(ch.Name)))
	if !ok || col.Derived || col.Name == "t_s" {
		return col, false
	}
	if unstated(ch.Unit) {
		return col, true
	}
	stated, known := schema.ParseUnit(ch.Unit)
	unit, _ := schema.ParseUnit(col.Unit)
	return col, known && stated.Name == unit.Name && (stated.Reference == "" || stated.Reference == col.Reference)
}

// byOwn claims the column whose name the header is.
func (n namer) byOwn(col schema.Column, log schema.Log, s schema.Series, c int) schema.Claim {
	ch := s.Channels[c]
	claim := schema.Claim{Column: col.Name, Scale: 1, Confidence: 1, Unit: col.Unit, Why: fmt.Sprintf("the name is the lake's own, unit %s by it", col.Unit)}
	if n.states(&claim, log, s, c); claim.Column == "" {
		return claim
	}
	if len(claim.States) == 0 && !numeric(s, c) {
		return schema.Claim{Scale: 1, Why: claim.Why + ", but no number was logged"}
	}
	if referenced(col) {
		claim.Reference = col.Reference
		claim.Guesses = append(claim.Guesses, find(log.Source, schema.Note, "reference_from_name", ch.Name,
			fmt.Sprintf("%q is the lake's own name of a column that is %s: taken so unless the values contradict it", ch.Name, col.Reference), math.NaN(), ""))
	}
	return claim
}
