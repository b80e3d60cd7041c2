package delimited

import (
	"bytes"
	"slices"
	"strings"
	"time"

	"dynolake/schema"
)

var time0 = time.Unix(0, 0).UTC()

// sample is the first rows of a table, on which its form is decided.
type sample struct {
	rows     []row
	line     int // Of the header.
	num      numerals
	american bool     // Units and signs speak for month/day/year.
	suffix   [][]byte // Of each column: the unit behind its numbers, or nil.
}

// cell is empty where the row has no such column.
func (s *sample) cell(i, col int) []byte {
	if col < 0 || col >= len(s.rows[i].cells) {
		return nil
	}
	if col < len(s.suffix) && s.suffix[col] != nil {
		return trim(bytes.TrimSuffix(s.rows[i].cells[col], s.suffix[col]))
	}
	return s.rows[i].cells[col]
}

// point finds the decimal sign of the sample's numbers, unseen where none shows one.
func (s *sample) point(delim byte) byte {
	var commas, points, lone int
	for _, r := range s.rows {
		for i, c := range r.cells {
			if r.kinds[i] != number {
				continue
			}
			sh, _ := shapeOf(bytes.TrimSuffix(c, unitBehind(c)))
			switch sh.point() {
			case ',':
				commas++
			case '.':
				points++
			default:
				lone += sh.commas
			}
		}
	}
	switch {
	case commas > points:
		return ','
	case points > 0 || delim == ',' && lone == 0:
		return '.'
	}
	return unseen
}

// namesAbove reports a names row whose cells are units save where a time is named, with the names in the row above it, as
// some scan tools write: RPM, MAF over TIME, /min, mg/str.
func (t *table) namesAbove() bool {
	r := &t.rows[t.names]
	units, other := 0, 0
	for i, c := range r.cells {
		if r.kinds[i] == empty {
			continue
		}
		switch s := text(c); {
		case timeName(s) > 0 || i == 0 && t.names > 0 && len(t.rows[t.names-1].cells) > 0 && t.rows[t.names-1].kinds[0] == empty:
		case unitLike(bare(s)):
			units++
		default:
			other++
		}
	}
	if units == 0 || other*4 > units || t.names == 0 {
		return false
	}
	above := &t.rows[t.names-1]
	return above.wordy() && above.filled >= units && above.values == 0
}

// speaksAmerican reports a table with US units and no sign of a European hand.
func speaksAmerican(cols []column, point, delim byte) bool {
	if point == ',' || delim == ';' {
		return false
	}
	for _, c := range cols {
		if u, ok := schema.ParseUnit(c.unit); ok && slices.Contains([]string{"mph", "°F", "psi", "lb-ft", "gal/h", "inHg", "inH2O", "lb/min"}, u.Name) {
			return true
		}
		if low := strings.ToLower(c.name); strings.Contains(low, "mph") || strings.Contains(low, "psi") || strings.Contains(low, "degf") {
			return true
		}
	}
	return false
}

// columns reads names, units and comments of a table's header.
func (t *table) columns() []column {
	cols := make([]column, t.width)
	names := t.header(t.names)
	twice := repeats(names)
	for i := range cols {
		c := &cols[i]
		c.at = i
		if i < len(names) && names[i] != "" {
			c.name, c.unit = splitName(names[i])
			c.named = true
		}
		var unit string
		if t.units >= 0 {
			if us := t.header(t.units); i < len(us) {
				unit = bare(us[i])
			}
		}
		if unit != "" {
			if c.unit != "" && c.unit != unit {
				c.name = strings.TrimSpace(names[i])
			}
			c.unit = unit
		}
	}
	if t.units < 0 && t.namesAbove() {
		above := t.header(t.names - 1)
		for i := range cols {
			if c := &cols[i]; i < len(above) && above[i] != "" && timeName(c.name) == 0 {
				c.unit = bare(names[i])
				c.name, c.named = above[i], true
			}
		}
	}
	for _, e := range t.extra {
		texts := t.header(e)
		switch titled := t.rows[e].wordy() && (twice || t.rows[t.names].gaps()); {
		case titled && e < t.names:
			prefix(cols, texts)
			continue
		case titled && !repeatsAll(names, texts):
			below(cols, names, texts)
			continue
		}
		for i := range cols {
			if i < len(texts) && texts[i] != "" {
				cols[i].comment = strings.TrimSpace(cols[i].comment + " " + texts[i])
			}
		}
	}
	return cols
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

func median(d []float64) float64 {
	if len(d) == 0 {
		return 0
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// startsWith compares a line with a header line kept from before, blanks at the ends aside.
func sameLine(a, b []byte) bool { return bytes.Equal(trim(a), trim(b)) }
