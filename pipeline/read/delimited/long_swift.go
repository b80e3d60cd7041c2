package delimited

import "bytes"

// holds is what a column of a long table holds.
type holds uint8

const (
	timeCell holds = iota
	valueCell
	nameCell
	unitCell
)

// holds is nil for tables with other columns, or with a clock that is no plain number: they are read cell by cell.
func (p *plan) holds() []holds {
	k := &p.bundles[0].clock
	if !k.numeric() || k.date >= 0 || p.delim == blanks {
		return nil
	}
	o := make([]holds, p.width)
	for i := range o {
		switch i {
		case k.col:
			o[i] = timeCell
		case p.long.value:
			o[i] = valueCell
		case p.long.name:
			o[i] = nameCell
		case p.long.unit:
			o[i] = unitCell
		default:
			return nil
		}
	}
	return o
}

// bare reports a name or unit that stands in its cell as it is, quoted or not.
func (e *long) bare(cell []byte) bool {
	return bytes.IndexByte(cell, '"') < 0 && bytes.IndexByte(cell, e.plan.delim) < 0
}

// swift reads a row of the lane whose turn it is. It is false where the row is of another one, or where anything in it needs
// more of a look, such as a time that falls; nothing has changed then.
func (e *long) swift(line []byte) (t, v float64, l *lane, ok bool) {
	if e.holds == nil || e.latest < 0 {
		return 0, 0, nil, false
	}
	next := e.turns[e.latest].next
	turn := &e.turns[next]
	if !turn.bare || e.plan.long.unit < 0 && turn.unit != "" {
		return 0, 0, nil, false
	}
	ahead := line[:min(cap(line), len(line)+24)] // The buffer goes on behind the line.
	at := -1
	for _, what := range e.holds {
		from := at + 1
		switch what {
		case timeCell:
			t, at = e.number(ahead, len(line), from)
		case valueCell:
			v, at = e.number(ahead, len(line), from)
		case nameCell:
			at = e.text(ahead, len(line), from, turn.name)
		case unitCell:
			at = e.text(ahead, len(line), from, turn.unit)
		}
		if at < from {
			return 0, 0, nil, false
		}
	}
	l = e.lanes[next]
	if t, ok = e.clock.of(t); !ok || at != len(line) || t < l.clock.follow.raw {
		return 0, 0, nil, false
	}
	e.latest = next
	return t, v, l, true
}

// number reads a plain number that is the cell at i of a line of n bytes; end is before i where there is none.
func (e *long) number(b []byte, n, i int) (v float64, end int) {
	point, from := e.num.point, i
	if i < n && b[i] == '"' {
		from++
	} else if point == e.plan.delim {
		point = unseen
	}
	if from > len(b)-quickRoom {
		return 0, i - 1
	}
	v, end = quick(b, from, point)
	if end == from {
		return 0, i - 1
	}
	return v, e.closed(b, n, i, end)
}

// text passes over a cell at i that holds such a text.
func (e *long) text(b []byte, n, i int, text string) int {
	from := i
	if i < n && b[i] == '"' {
		from++
	}
	if end := from + len(text); end <= n && string(b[from:end]) == text {
		return e.closed(b, n, i, end)
	}
	return i - 1
}

// closed is where the cell at i ends whose content ends at end.
func (e *long) closed(b []byte, n, i, end int) int {
	if i < n && b[i] == '"' {
		if end >= n || b[end] != '"' {
			return i - 1
		}
		end++
	}
	if !ended(b, end, n, e.plan.delim) {
		return i - 1
	}
	return end
}
