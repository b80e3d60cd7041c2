package delimited

import (
	"fmt"
	"slices"
	"strings"

	"dynolake/schema"
)

// The header words of a long table's columns, in the languages of recorders.
var (
	nameHeads = set(`pid name channel signal parameter param sensor measurement variable kanal messgröße messgroesse bezeichnung label tag item quantity metric signalname channelname
		parametername pidname variablename channelid sensorname kanalname grösse größe nom nombre señal canal voie description messkanal`)
	valueHeads = set(`value values wert werte val reading valeur valor messwert measured magnitude waarde data physical`)
	unitHeads  = set(`unit units einheit einheiten unité unite unidad unidades uom eu eenheid`)
)

func headed(c *column, heads map[string]bool) bool {
	ws := words(c.name)
	if len(ws) == 0 || !c.named {
		return false
	}
	return heads[ws[len(ws)-1]] || heads[strings.Join(ws, "")] || heads[ws[0]] && len(ws) <= 2
}

// asLong finds a table with a row a value: a column of names, one of values, perhaps one of units, and a clock. The header
// says it, or the rows do: names change from row to row, where a state in a wide table stays.
func (p *plan) asLong(s *sample) bool {
	at, best := -1, -1.0
	for i := range p.cols {
		if c := &p.cols[i]; c.rank > 0 && c.weight() > best {
			at, best = i, c.weight()
		}
	}
	if at < 0 {
		return false
	}
	r, ok := p.longByHeader(at, len(s.rows))
	if !ok {
		r, ok = p.longByRows(at, s)
	}
	if !ok {
		return false
	}
	date := p.dateColumn()
	k := p.cols[at].clock
	if k.form == timeOfDay && date >= 0 {
		k = p.joined(&p.cols[at], date, s)
	}
	p.dateFrom(&k, at, date, s)
	p.long = &r
	p.bundles = []bundle{{clock: k}}
	p.why = fmt.Sprintf("a row a value: time %q, name %q, value %q", p.cols[at].name, p.cols[r.name].name, p.cols[r.value].name)
	p.leftOut(at, k.date, r, s)
	return true
}

// leftOut records columns of a long table that have no place in it.
func (p *plan) leftOut(at, date int, r roles, s *sample) {
	var names []string
	for i := range p.cols {
		c := &p.cols[i]
		if i != at && i != date && i != r.name && i != r.value && i != r.unit && c.rank == 0 && c.filled > 0 && !c.dateOnly {
			names = append(names, c.name)
		}
	}
	if len(names) > 0 {
		p.guesses = append(p.guesses, s.num.tally.finding(schema.Doubt, "long_columns_left_out", names[0],
			fmt.Sprintf("%s:%d:1: a row holds one value; the columns %q beside time, name, value and unit were left out", s.num.tally.source, s.line, names), float64(len(names)), "columns"))
	}
}

func (p *plan) longByHeader(at, rows int) (roles, bool) {
	r := roles{-1, -1, -1}
	for i := range p.cols {
		c := &p.cols[i]
		switch {
		case i == at || c.rank > 0 || c.dateOnly:
		case r.unit < 0 && headed(c, unitHeads):
			r.unit = i
		case r.value < 0 && headed(c, valueHeads) && c.numbers+c.voids+c.filled > 0:
			r.value = i
		case headed(c, nameHeads) && (r.name < 0 || p.cols[r.name].texts == 0 && c.texts > 0):
			r.name = i
		}
	}
	return r, r.name >= 0 && r.value >= 0 && p.cols[r.name].filled > 0 && p.namesRows(at, r, rows)
}

// fewBeside is how many more columns of numbers a row of a long table has at the most, such as a raw value or a counter.
const fewBeside = 2

// namesRows reports a column of names that is one beside a value. A wide log has such heads too, as an injection quantity and a lambda value are, but
// then there are many columns of numbers, and texts stand still from row to row.
func (p *plan) namesRows(at int, r roles, rows int) bool {
	beside := 0
	for i := range p.cols {
		c := &p.cols[i]
		if i != at && i != r.name && i != r.value && i != r.unit && c.rank == 0 && !c.dateOnly && c.filled > 0 && c.numbers*2 > c.filled {
			beside++
		}
	}
	names := &p.cols[r.name]
	texts := names.numbers*2 < names.filled
	return beside <= fewBeside || texts && names.changes*2 > rows
}

// longByRows goes by the cells alone.
func (p *plan) longByRows(at int, s *sample) (roles, bool) {
	r := roles{-1, -1, -1}
	for i := range p.cols {
		c := &p.cols[i]
		if i == at || c.rank > 0 || c.dateOnly || c.filled == 0 {
			continue
		}
		role := p.role(i, s, &r)
		if role == nil || *role >= 0 {
			return r, false
		}
		*role = i
	}
	if r.name < 0 || r.value < 0 || len(s.rows) < 4 {
		return r, false
	}
	names := &p.cols[r.name]
	return r, names.changes*2 > len(s.rows) && names.texts < len(s.rows) || r.unit >= 0 && p.depends(r, s)
}

// role is what a column may be in a long table by its cells, nil when nothing.
func (p *plan) role(col int, s *sample, r *roles) *int {
	c := &p.cols[col]
	worded := (c.filled-c.numbers-c.moments)*10 >= c.filled*9
	switch {
	case worded && p.allUnits(col, s):
		return &r.unit
	case worded && c.texts >= 2:
		return &r.name
	case c.numbers*2 > c.filled:
		return &r.value
	}
	return nil
}

// allUnits reports a column whose texts are units, more than one of them or with blanks between.
func (p *plan) allUnits(col int, s *sample) bool {
	units, other := 0, 0
	for i := range s.rows {
		cell := text(s.cell(i, col))
		switch {
		case cell == "" || voidOf([]byte(cell)) != word:
		case unitLike(bare(cell)):
			units++
		default:
			other++
		}
	}
	return units > 0 && other*4 <= units
}

// depends reports that every name has one unit.
func (p *plan) depends(r roles, s *sample) bool {
	units := map[string][]byte{}
	for i := range s.rows {
		name, unit := string(s.cell(i, r.name)), s.cell(i, r.unit)
		if u, ok := units[name]; ok && !slices.Equal(u, unit) {
			return false
		}
		units[name] = unit
	}
	return len(units) > 1
}
