package delimited

import (
	"bytes"
	"strings"

	"dynolake/schema"
)

// namesRow reports a row that can name the columns of a table.
func namesRow(r *row) bool {
	if r.filled < 2 || r.values == r.filled || !r.wordy() && r.filled < 3 {
		return false
	}
	for _, k := range r.kinds {
		if k == moment {
			return false
		}
	}
	if !r.wordy() {
		return timed(r)
	}
	return !unitsRow(r) || timed(r)
}

// timed reports a row with a cell that names a time.
func timed(r *row) bool { return r.timed.ask(r.namesTime) }

func (r *row) namesTime() bool {
	for i, c := range r.cells {
		if r.kinds[i] != word {
			continue
		}
		if name, _ := splitName(text(unmark(c))); timeName(name) == 2 {
			return true
		}
	}
	return false
}

// unitsRow reports a row of units, with or without brackets or a comment mark before them.
func unitsRow(r *row) bool { return r.units.ask(r.holdsUnits) }

func (r *row) holdsUnits() bool {
	units, sure, filled := 0, 0, 0
	if r.values == r.filled {
		return false
	}
	for i, c := range r.cells {
		if i == 0 {
			c = unmark(c)
		}
		s := text(c)
		if s == "" {
			continue
		}
		if filled++; len(s) > 24 || len(strings.Fields(s)) > 3 {
			continue
		}
		inner := bare(s)
		_, ok := schema.ParseUnit(inner)
		switch {
		case inner != s && s[0] == '[' || ok && r.kinds[i] == word || unitLike(inner) && r.kinds[i] == word:
			units++
			sure++
		case r.kinds[i] == missing || inner == "1":
			units++
		}
	}
	return sure > 0 && units*10 >= filled*6
}

// marks are what comment lines begin with.
var marks = []string{"//", "#", "%", "!", "*", ";", "'"}

// unmark takes a comment mark off the first cell of a header line.
func unmark(c []byte) []byte {
	for _, mark := range marks {
		if rest, ok := bytes.CutPrefix(c, []byte(mark)); ok && len(trim(rest)) > 0 {
			return trim(rest)
		}
	}
	if rest, ok := bytes.CutPrefix(c, []byte("c ")); ok && bytes.HasPrefix(trim(rest), []byte("[")) {
		return trim(rest)
	}
	return c
}
