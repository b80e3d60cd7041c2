package mapping

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

// ByName proposes a column for every channel, from the user's rules, the name and the unit, and for a channel without a unit
// from its values. There is one claim a channel, in the order of the logs; a channel that is not understood has no column and a
// Why that says what was missing.
func ByName(logs []schema.Log, rules Rules, ctx Context) []schema.Claim {
	n := namer{index: aliases(), rules: rules, ctx: ctx}
	var claims []schema.Claim
	for l, log := range logs {
		for s, series := range log.Series {
			for c := range series.Channels {
				claim := n.claim(log, series, c)
				claim.Log, claim.Series, claim.Channel = l, s, c
				claim.Confidence = min(max(claim.Confidence, 0), 1)
				claims = append(claims, claim)
			}
		}
	}
	settleTemperatures(logs, claims)
	settleSpeeds(logs, claims)
	return claims
}

type namer struct {
	index index
	rules Rules
	ctx   Context
}

func (n namer) claim(log schema.Log, s schema.Series, c int) schema.Claim {
	ch := s.Channels[c]
	if rule, ok := n.rules.find(log.Source, ch, n.ctx); ok {
		return n.byRule(rule, log, s, c)
	}
	if airFuel(ch) {
		return airFuelRatio(log.Source, ch.Name)
	}
	if col, ok := own(ch); ok {
		return n.byOwn(col, log, s, c)
	}
	senses, strange := n.index.senses(ch)
	best, sense, why := n.best(senses, strange)
	if best.column.Name == "" {
		return schema.Claim{Scale: 1, Why: why}
	}
	claim := schema.Claim{Column: best.column.Name, Scale: 1, Confidence: best.confidence, Reference: said(sense, best.column)}
	claim.Why = fmt.Sprintf("%s is %q", best.how, best.alias)
	if n.states(&claim, log, s, c); claim.Column == "" {
		return claim
	}
	if len(claim.States) == 0 && !numeric(s, c) {
		return schema.Claim{Scale: 1, Why: claim.Why + ", but no number was logged"}
	}
	if sense.key.computed && !best.computed || best.computed && best.column.Quantity == "pressure" {
		claim.Confidence -= 0.3
		claim.Why += ", worked out by the recorder"
	}
	n.unit(&claim, sense, best.column, log, s, c)
	if claim.Column != "" && strings.HasPrefix(claim.Column, "vane") {
		vanes(&claim, sense.key.vanes, log.Source, ch.Name)
	}
	return claim
}

// best is the surest match whose unit is of the column's quantity; without one, why there is none.
func (n namer) best(senses []sense, strange string) (match, sense, string) {
	var best match
	var at sense
	refused := ""
	for _, s := range senses {
		for _, m := range n.index.find(s.key) {
			if no := mismatch(m, s, strange); no != "" {
				if refused == "" {
					refused = no
				}
				continue
			}
			if s.stated {
				m.confidence += 0.02
			}
			if m.confidence > best.confidence {
				best, at = m, s
			}
		}
	}
	switch {
	case best.column.Name != "":
		return best, at, ""
	case refused != "":
		return match{}, sense{}, refused
	}
	return match{}, sense{}, n.stranger(senses)
}

// mismatch says why a name's match does not stand with its unit, "" when it does.
func mismatch(m match, s sense, strange string) string {
	if strange != "" && m.column.Kind != schema.State {
		return fmt.Sprintf("the name is that of %s, but the unit %q is not understood: add a mapping with its unit", m.column.Name, strange)
	}
	if strings.EqualFold(strings.Join(s.key.words, ""), "map") && s.stated && s.unit.Quantity != "pressure" {
		return "the unit is not that of a pressure"
	}
	if !s.stated {
		if contains(s.key.words, "consumption") {
			return "a consumption without a unit may be one over distance: add a mapping with its unit"
		}
		if len(strings.Join(s.key.words, "")) <= 2 {
			return fmt.Sprintf("%q alone is too little without a unit: it could be %s", strings.Join(s.key.words, " "), m.column.Name)
		}
		return ""
	}
	if dimensionless(s.unit) && (m.column.Quantity == "percentage" || m.column.Quantity == "count") {
		return ""
	}
	if _, ok := fit(m.column, s.unit, 1); !ok {
		return fmt.Sprintf("the name is that of %s, a %s, but the unit %s is a %s", m.column.Name, m.column.Quantity, s.unit.Name, s.unit.Quantity)
	}
	return ""
}

// stranger says why a name fits no alias.
func (n namer) stranger(senses []sense) string {
	for _, s := range senses {
		e, extra, ok := n.index.nearest(s.key)
		if !ok {
			continue
		}
		for _, w := range extra {
			if why := n.index.words.refuse[w]; why != "" {
				return fmt.Sprintf("not taken for %s because of the word %q: %s", e.column.Name, w, why)
			}
		}
		return fmt.Sprintf("resembles %q (%s), but says %q too: add a mapping if it is that", e.alias, e.column.Name, strings.Join(extra, " "))
	}
	return "no column has this name: add a mapping if it is one"
}

// said is what header and unit say of a pressure's zero. Two that differ say nothing.
func said(s sense, col schema.Column) schema.Reference {
	if col.Quantity != "pressure" {
		return ""
	}
	word := schema.Reference("")
	if s.key.absolute != s.key.gauge {
		word = schema.Gauge
		if s.key.absolute {
			word = schema.Absolute
		}
	}
	switch unit := s.unit.Reference; {
	case unit == "" || unit == word:
		return word
	case word == "":
		return unit
	}
	return ""
}

// unit works out the conversion, with what it assumes.
func (n namer) unit(claim *schema.Claim, s sense, col schema.Column, log schema.Log, series schema.Series, c int) {
	density, whence := n.ctx.density()
	name := series.Channels[c].Name
	u, known, from := s.unit, s.stated, s.from
	if known && dimensionless(u) && col.Quantity == "percentage" {
		known = false
	}
	if !known {
		if u, known = n.index.implied(s, col); known {
			from = "in the name"
		}
	}
	if !known {
		withoutUnit(claim, col, log.Source, name, finite(series, c))
		return
	}
	conv, ok := fit(col, u, density)
	if !ok { // A gear without a unit of its own.
		conv = conversion{scale: 1}
	}
	claim.Scale, claim.Offset, claim.Unit = conv.scale, conv.offset, u.Name
	claim.Why += fmt.Sprintf(", unit %s %s", u.Name, from)
	if conv.density {
		claim.Guesses = append(claim.Guesses, find(log.Source, schema.Note, "density_used", name,
			fmt.Sprintf("a volume of fuel became a mass with %.4g kg/L, %s", density, whence), density, "kg/L"))
		claim.Why += fmt.Sprintf(", a mass with %.4g kg/L", density)
	}
}

// states reads the texts of a state; texts of no known meaning are told.
func (n namer) states(claim *schema.Claim, log schema.Log, s schema.Series, c int) {
	col, _ := schema.Lookup(claim.Column)
	if col.Kind != schema.State {
		return
	}
	known, unknown := states(col.Name, texts(s, c))
	claim.States = known
	name := s.Channels[c].Name
	for _, text := range unknown {
		if col.Name == "gear" && drive(text) {
			claim.Guesses = append(claim.Guesses, find(log.Source, schema.Note, "state_open", name, fmt.Sprintf("%q names a range, not a gear: left empty", text), math.NaN(), ""))
			continue
		}
		claim.Guesses = append(claim.Guesses, find(log.Source, schema.Doubt, "state_unknown", name,
			fmt.Sprintf("%q is no state of %s that is known: left empty; add a mapping with states", text, col.Name), math.NaN(), ""))
	}
	if len(known) == 0 && len(unknown) > 0 && !numeric(s, c) {
		*claim = schema.Claim{Scale: 1, Guesses: claim.Guesses, Why: fmt.Sprintf("the name is that of %s, but none of its texts is known", col.Name)}
	}
}

// numeric reports whether a channel has a number at all.
func numeric(s schema.Series, c int) bool {
	return c < len(s.Values) && slices.ContainsFunc(s.Values[c], func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) })
}

// finite gives a channel's numbers, without gaps.
func finite(s schema.Series, c int) []float64 {
	if c >= len(s.Values) {
		return nil
	}
	out := make([]float64, 0, len(s.Values[c]))
	for _, v := range s.Values[c] {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			out = append(out, v)
		}
	}
	return out
}

// find makes a finding without times.
func find(source string, severity schema.Severity, code, channel, text string, value float64, unit string) schema.Finding {
	nan := math.NaN()
	return schema.Finding{Source: source, Severity: severity, Code: code, Channel: channel, Text: text, Value: value, Unit: unit, T0S: nan, T1S: nan}
}
