package mapping

import (
	"slices"
	"strings"
	"sync"

	"dynolake/schema"
)

// spelling is one alias of one column, folded.
type spelling struct {
	column   schema.Column
	alias    string   // As the catalogue has it.
	words    []string // Folded.
	computed bool
}

// index finds the aliases with the same words, whatever their order.
type index struct {
	words   words
	byKey   map[string][]spelling
	entries []spelling
}

var aliases = sync.OnceValue(func() index {
	w := table()
	x := index{words: w, byKey: map[string][]spelling{}}
	for _, c := range schema.Columns() {
		if c.Derived || c.Name == "t_s" {
			continue
		}
		seen := map[string]int{}
		for _, a := range append([]string{strings.ReplaceAll(c.Name, "_", " ")}, c.Aliases...) {
			k := w.key(w.canonical(tokens(a, true)))
			order := strings.Join(k.words, " ")
			if at, ok := seen[order]; ok { // The same name in other words: the one written out is shown.
				if a == order {
					x.entries[at].alias = a
				}
				continue
			}
			seen[order] = len(x.entries)
			x.entries = append(x.entries, spelling{c, a, k.words, k.computed})
		}
	}
	for _, e := range x.entries {
		sorted := key{words: e.words}.sorted()
		x.byKey[sorted] = append(x.byKey[sorted], e)
	}
	return x
})

// match is an alias that a name agrees with, and how well: 0 to 1.
type match struct {
	spelling
	confidence float64
	how        string // How the name was read, for people.
}

// find gives the columns whose aliases have the name's words, best agreement first left to the caller.
func (x index) find(k key) []match {
	var out []match
	for _, try := range x.readings(k) {
		for _, e := range x.byKey[try.key.sorted()] {
			conf, how := try.confidence, "the name in other words"
			switch ordered := strings.Join(e.words, " ") == strings.Join(try.key.words, " "); {
			case !ordered:
				conf -= 0.1
				how = "the same words in another order"
			case try.why == "" && try.key.dropped == 0:
				how = "the name"
			}
			if try.why != "" {
				if len(e.words) < try.least || !try.allows(e.column.Name) {
					continue
				}
				how = try.why
			}
			conf -= 0.02 * float64(try.key.dropped)
			out = append(out, match{e, max(conf, 0.3), how})
		}
		if len(out) > 0 {
			break
		}
	}
	return out
}

// owners are the words that may say whose a figure is, in the order in which they are tried.
var owners = [...]string{"engine", "transmission", "aftertreatment", "vehicle", "turbo", "dyno"}

type reading struct {
	key        key
	confidence float64
	why        string
	least      int // Words that the alias must have at least, lest a single word match anything.
	allows     func(column string) bool
}

func anyColumn(string) bool { return true }

// notDyno keeps an engine controller's figures off the columns that a dyno measures.
func notDyno(column string) bool {
	return column != "torque_nm" && !strings.HasPrefix(column, "wheel_") && !strings.HasPrefix(column, "roller_")
}

// readings gives the ways a name may be cut down, surest first.
func (x index) readings(k key) []reading {
	out := []reading{{k, 0.95, "", 1, anyColumn}}
	if k.vanes != "" {
		opens := func(c string) bool { return strings.HasPrefix(c, "vane") || c == "egr_pct" || c == "pedal_pct" }
		out = append(out, reading{k.without(func(w string) bool { return directions[w] != "" }), 0.85, "the name without the end that is 100 %", 1, opens})
		position := k
		position.words = nil
		for _, w := range k.words {
			if directions[w] != "" {
				w = "position"
			}
			position.words = append(position.words, w)
		}
		out = append(out, reading{position, 0.85, "the name, its end that is 100 % read as a position", 1, opens})
	}
	if bare := k.without(func(w string) bool { return x.words.modules[w] }); len(bare.words) != len(k.words) {
		out = append(out, reading{bare, 0.88, "the name without its module", 1, notDyno})
	}
	if len(k.words) > 1 {
		for _, word := range x.words.symbols[k.words[0]] {
			spelt := k
			spelt.words = append([]string{word}, k.words[1:]...)
			out = append(out, reading{spelt, 0.85, "the name, its symbol written out,", 2, anyColumn})
		}
	}
	if k.computed {
		plain := k.without(func(w string) bool { return x.words.computed[w] })
		out = append(out, reading{plain, 0.8, "the name without calculated", 1, anyColumn})
	}
	for _, owner := range owners {
		cut := k.without(func(w string) bool { return w == owner })
		if len(cut.words) != len(k.words) && len(cut.words) >= 2 {
			out = append(out, reading{cut, 0.75, "the name without " + owner, 2, x.ownedBy(owner)})
			if owner != "engine" {
				both := cut.without(func(w string) bool { return w == "engine" })
				if len(both.words) != len(cut.words) && len(both.words) >= 2 {
					out = append(out, reading{both, 0.7, "the name without engine and " + owner, 2, x.ownedBy(owner)})
				}
			}
		}
	}
	if codes := k.without(x.code); len(codes.words) != len(k.words) && len(k.words)-len(codes.words) <= 2 {
		out = append(out, reading{codes, 0.65, "the name without a module's code", 2, anyColumn})
	}
	return out
}

// ownedBy says which columns an owner's name may be left out of: elsewhere it names another thing.
func (x index) ownedBy(owner string) func(string) bool {
	return func(column string) bool {
		return slices.ContainsFunc(x.words.owners[owner], func(prefix string) bool { return strings.HasPrefix(column, prefix) })
	}
}

// code reports whether a word looks like a module's or a message's code (eec1, ccvs, x7): short, with a digit or without a
// vowel, and no word that the table or the catalogue knows.
func (x index) code(word string) bool {
	if x.words.vocabulary[word] || x.words.refuse[word] != "" || len(word) > 5 || isNumber(word) {
		return false
	}
	return strings.ContainsAny(word, "0123456789") || !strings.ContainsAny(word, "aeiouy") && len(word) > 1
}

func isNumber(word string) bool { return strings.Trim(word, "0123456789") == "" }

// nearest is the alias with most words that the name holds whole, with the words the name has beside it.
func (x index) nearest(k key) (spelling, []string, bool) {
	var best spelling
	var extra []string
	for _, e := range x.entries {
		rest := k.without(func(w string) bool { return contains(e.words, w) })
		if len(e.words) == 1 && len(e.words[0]) < 3 || !within(e.words, k.words) || len(rest.words) == 0 {
			continue
		}
		if len(e.words) > len(best.words) {
			best, extra = e, rest.words
		}
	}
	return best, extra, len(best.words) > 0
}

func contains(list []string, word string) bool { return slices.Contains(list, word) }

func within(part, whole []string) bool {
	for _, p := range part {
		if !contains(whole, p) {
			return false
		}
	}
	return true
}
