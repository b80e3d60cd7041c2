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

// numberShape is the shape of a cell that is a number, the unit behind it aside.
func numberShape(cell []byte) shape {
	s, ok := simple(cell)
	if !ok {
		s, _ = shapeOf(bytes.TrimSuffix(cell, unitBehind(cell)))
	}
	return s
}

// point finds the decimal sign of the sample's numbers, unseen where none shows one.
func (s *sample) point(delim byte) byte {
	var commas, points, lone int
	for _, r := range s.rows {
		for i, c := range r.cells {
			if r.kinds[i] != number {
				continue
			}
			sh := numberShape(c)
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
	case points > 0:
		return '.'
	}
	switch sep := s.groups(); {
	case sep == '.' && delim != ',':
		return ','
	case sep == ',' || delim == ',' && lone == 0:
		return '.'
	}
	return unseen
}

// groups finds a sign that only parts thousands: a column writes it in front of three digits each time, and none at all in whole
// numbers of three digits, which decimals would not drop. It is 0 where no column shows that.
func (s *sample) groups() byte {
	type count struct {
		whole, parted int
		sign          byte
		other         bool
	}
	var cols []count
	for _, r := range s.rows {
		for i, c := range r.cells {
			if r.kinds[i] != number {
				continue
			}
			for len(cols) <= i {
				cols = append(cols, count{})
			}
			sh := numberShape(c)
			switch k := &cols[i]; {
			case sh.commas+sh.points == 0:
				k.other = k.other || sh.behind > 3
				if sh.behind == 3 && !sh.zero {
					k.whole++
				}
			case sh.point() != 0 || k.sign != 0 && k.sign != sh.last:
				k.other = true
			default:
				k.parted, k.sign = k.parted+1, sh.last
			}
		}
	}
	for _, k := range cols {
		if !k.other && k.whole > 0 && k.parted >= 3 {
			return k.sign
		}
	}
	return 0
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

func median(d []float64) float64 {
	if len(d) == 0 {
		return 0
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// startsWith compares a line with a header line kept from before, blanks at the ends aside.
func sameLine(a, b []byte) bool { return bytes.Equal(trim(a), trim(b)) }
