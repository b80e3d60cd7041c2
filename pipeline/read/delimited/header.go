package delimited

import (
	"strings"
)

// columns reads names, units and comments of a table's header.
func (t *table) columns() []column {
	cols := make([]column, t.width)
	names := t.header(t.names)
	for i := range cols {
		c := &cols[i]
		c.at = i
		if i < len(names) && names[i] != "" {
			c.name, c.unit = splitName(names[i])
			c.named = true
		}
	}
	switch {
	case t.units >= 0:
		unitsBelow(cols, names, t.header(t.units))
	case t.namesAbove():
		namesAbove(cols, names, t.header(t.names-1))
	}
	twice := repeats(names)
	for _, e := range t.extra {
		texts := t.header(e)
		switch titled := t.rows[e].wordy() && (twice || t.rows[t.names].gaps()); {
		case titled && e < t.names:
			prefix(cols, texts)
		case titled && !repeatsAll(names, texts):
			below(cols, names, texts)
		default:
			comments(cols, texts)
		}
	}
	return cols
}

// unitsBelow takes the units of a units row; they win over units in the names.
func unitsBelow(cols []column, names, units []string) {
	for i := range cols {
		if i >= len(units) || units[i] == "" {
			continue
		}
		c, unit := &cols[i], bare(units[i])
		if c.unit != "" && c.unit != unit {
			c.name = strings.TrimSpace(names[i])
		}
		c.unit = unit
	}
}

// namesAbove takes names from the row above one that holds units and names a time only.
func namesAbove(cols []column, units, names []string) {
	for i := range cols {
		if c := &cols[i]; i < len(names) && names[i] != "" && timeName(c.name) == 0 {
			c.unit = ""
			if i < len(units) {
				c.unit = bare(units[i])
			}
			c.name, c.named = names[i], true
		}
	}
}

// comments keeps what else stands in a column's header.
func comments(cols []column, texts []string) {
	for i := range cols {
		if i < len(texts) && texts[i] != "" {
			cols[i].comment = strings.TrimSpace(cols[i].comment + " " + texts[i])
		}
	}
}

// header gives a header row's texts without comment marks.
func (t *table) header(i int) []string {
	cells := t.rows[i].cells
	out := make([]string, len(cells))
	for j, c := range cells {
		if j == 0 {
			c = unmark(c)
		}
		out[j] = strings.Join(strings.Fields(text(c)), " ")
	}
	return out
}

func repeats(names []string) bool {
	seen := map[string]bool{}
	for _, n := range names {
		if n != "" && seen[n] {
			return true
		}
		seen[n] = true
	}
	return false
}

// prefix sets the group titles that stand over names before them; a title holds until the next one.
func prefix(cols []column, titles []string) {
	title := ""
	for i := range cols {
		if i < len(titles) && titles[i] != "" {
			title = titles[i]
		}
		if cols[i].named && title != "" && timeName(cols[i].name) == 0 {
			cols[i].name = title + " " + cols[i].name
		}
	}
}

// below joins titles that stand in the names row with the names below them.
func below(cols []column, titles, names []string) {
	for i := range cols {
		c := &cols[i]
		if i >= len(names) || names[i] == "" || c.named && timeName(c.name) > 0 {
			continue
		}
		name, unit := splitName(names[i])
		c.name, c.named = name, true
		if c.unit == "" || unit != "" {
			c.unit = unit
		}
	}
	prefix(cols, titles)
}

// gaps reports a row with empty cells between others, as titles over groups of columns leave them.
func (r *row) gaps() bool {
	for _, k := range r.kinds[:r.last] {
		if k == empty {
			return true
		}
	}
	return false
}

// repeatsAll reports a second row that tells the columns of one title no better apart.
func repeatsAll(titles, names []string) bool {
	seen := map[string]bool{}
	for i, t := range titles {
		if i >= len(names) {
			return true
		}
		key := t + "\x00" + names[i]
		if t != "" && seen[key] {
			return true
		}
		seen[key] = true
	}
	return false
}
