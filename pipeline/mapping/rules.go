package mapping

import (
	"crypto/sha256"
	"encoding/hex"
	"path"
	"regexp"
	"slices"
	"strings"

	"dynolake/pipeline/config/entry"
	"dynolake/schema"
)

// Rule is one entry of the user's mappings: what a header means. stored = (logged*Factor + Offset), read in Unit.
type Rule struct {
	At        entry.Position // Where it stands.
	Header    string         // The header's text, compared without case and punctuation; empty with a pattern.
	Pattern   *regexp.Regexp // Must match the whole header; nil with a header.
	Vehicle   string         // Only for this vehicle; empty: any.
	Source    string         // Only in sources of this name, with * and ?; empty: any.
	Column    string         // Empty with Ignore.
	Unit      schema.Unit    // Of the logged numbers after factor and offset; the zero Unit: as logged, else as stored.
	Reference schema.Reference
	Factor    float64 // 1 when not stated.
	Offset    float64
	States    map[string]float64 // A state's texts, lower case.
	Zero      *schema.ZeroAsk    // Of a pressure: what is to be taken off it; nil for nothing.
	Ignore    bool
	Text      string // The entry in one spelling, whatever its order and layout: two rules with one text do the same.
}

// Rules is the user's mappings, in the order of file names and entries.
type Rules struct{ list []Rule }

// List gives every rule.
func (r Rules) List() []Rule { return slices.Clone(r.list) }

// Fingerprint is the same for rules that say the same, whatever their order in the files and their layout.
func (r Rules) Fingerprint() string { return fingerprint(r.list) }

// Used is the fingerprint of the rules that speak of a channel of these logs: when it changes, the run is to be derived again.
func (r Rules) Used(logs []schema.Log, ctx Context) string {
	var used []Rule
	for _, l := range logs {
		for _, s := range l.Series {
			for _, c := range s.Channels {
				if rule, ok := r.find(l.Source, c, ctx); ok {
					used = append(used, rule)
				}
			}
		}
	}
	return fingerprint(used)
}

func fingerprint(rules []Rule) string {
	list := make([]string, 0, len(rules))
	for _, r := range rules {
		list = append(list, r.Text)
	}
	slices.Sort(list)
	sum := sha256.Sum256([]byte(strings.Join(slices.Compact(list), "\n")))
	return hex.EncodeToString(sum[:8])
}

// find gives the rule that decides a channel: the one with most conditions, a header before a pattern, then the first.
func (r Rules) find(source string, c schema.Channel, ctx Context) (Rule, bool) {
	best, found := Rule{}, false
	for _, rule := range r.list {
		if rule.speaksOf(source, c, ctx) && (!found || rule.weight() > best.weight()) {
			best, found = rule, true
		}
	}
	return best, found
}

func (r Rule) weight() int {
	w := 0
	if r.Pattern == nil {
		w++
	}
	if r.Source != "" {
		w += 2
	}
	if r.Vehicle != "" {
		w += 2
	}
	return w
}

func (r Rule) speaksOf(source string, c schema.Channel, ctx Context) bool {
	if r.Vehicle != "" && !strings.EqualFold(r.Vehicle, ctx.vehicle()) {
		return false
	}
	if r.Source != "" && !globs(r.Source, source) {
		return false
	}
	written := []string{c.Name}
	if c.Unit != "" {
		written = append(written, c.Name+" ["+c.Unit+"]", c.Name+" ("+c.Unit+")", c.Name+"_"+c.Unit)
	}
	for _, w := range written {
		if r.Pattern != nil && r.Pattern.MatchString(strings.TrimSpace(w)) {
			return true
		}
		if r.Pattern == nil && bare(w) == bare(r.Header) {
			return true
		}
	}
	return false
}

// globs compares a source's name, or the last part of it, with a pattern of * and ?.
func globs(pattern, source string) bool {
	pattern, source = strings.ToLower(pattern), strings.ToLower(strings.ReplaceAll(source, `\`, "/"))
	for _, name := range []string{source, path.Base(source)} {
		if ok, err := path.Match(pattern, name); err == nil && ok {
			return true
		}
	}
	return false
}

// bare is a header without case, blanks and punctuation; one that holds nothing else is kept as it is.
func bare(header string) string {
	folded := strings.Map(func(r rune) rune {
		if strings.ContainsRune(" \t\u00a0_-.,:;/()[]{}<>\"'", r) {
			return -1
		}
		return r
	}, strings.ToLower(header))
	if folded == "" {
		return strings.TrimSpace(header)
	}
	return folded
}
