package delimited

import (
	"bytes"
	"slices"
)

// row is one record of the window under one delimiter.
type row struct {
	raw    []byte
	cells  [][]byte
	kinds  []kind
	off    int // Where its bytes start in the window.
	taken  int // How many there are, line ending included.
	line   int // Its number in the file.
	lines  int // How many lines it runs over.
	filled int // Cells that hold something, voids such as NaN not counted.
	values int // Of these, numbers and moments.
	last   int // Index behind the last cell that is not empty.
	units  answer
	timed  answer
}

// answer is a question about a row that was asked before.
type answer uint8

const (
	unasked answer = iota
	yes
	no
)

// ask gives the answer, finding it the first time.
func (a *answer) ask(find func() bool) bool {
	if *a == unasked {
		if *a = no; find() {
			*a = yes
		}
	}
	return *a == yes
}

// wordy reports a row of texts, as names are.
func (r *row) wordy() bool { return r.filled > 0 && (r.filled-r.values)*10 >= r.filled*7 }

// window is a stretch of whole lines in which a table is looked for.
type window struct {
	b    []byte
	eol  byte
	line int  // Number of its first line.
	all  bool // It reaches the end of the file.
}

// rows splits the window at one delimiter.
func (w window) rows(delim byte) []row {
	var rows []row
	var room [][]byte
	line := w.line
	for off := 0; off < len(w.b); {
		cells, taken, lines := record(w.b[off:], delim, w.eol, 0, room)
		r := row{raw: trimReturn(bytes.TrimSuffix(w.b[off:off+taken], []byte{w.eol})), off: off, taken: taken, line: line, lines: lines}
		room = cells
		if delim == blanks && len(cells) > 1 && slices.Contains(marks, string(cells[0])) {
			cells = cells[1:] // A comment mark before a header line is no cell.
		}
		r.cells = append([][]byte(nil), cells...)
		r.kinds = make([]kind, len(cells))
		for i, c := range r.cells {
			k := kindOf(c)
			r.kinds[i] = k
			if k != empty {
				r.last = i + 1
			}
			if !k.void() {
				r.filled++
			}
			if k.value() {
				r.values++
			}
		}
		rows = append(rows, r)
		off += taken
		line += lines
	}
	return rows
}

const (
	maxSample = 256 // Rows on which a table's form is decided.
	maxExtra  = 6   // Lines between names and data.
)

// widen splits a names row at runs of two blanks and more, for columns whose names hold single ones.
func (r *row) widen(want int) bool {
	var cells [][]byte
	for _, part := range bytes.Split(bytes.ReplaceAll(r.raw, []byte("\t"), []byte("  ")), []byte("  ")) {
		if part = trim(part); len(part) > 0 {
			cells = append(cells, part)
		}
	}
	if len(cells) != want {
		return false
	}
	r.cells, r.kinds, r.filled, r.values, r.last = cells, make([]kind, want), want, 0, want
	for i := range r.kinds {
		r.kinds[i] = word
	}
	return true
}

// table is a names row and the rows below it that it fits.
type table struct {
	delim byte
	rows  []row // Of the window.
	names int   // Index of the names row.
	units int   // Of the units row, -1 without one.
	extra []int // Other rows between names and data: a second names row, ids.
	data  int   // Index of the first data row.
	last  int   // Index behind the last row of the extent.
	width int
	size  int // Data rows in the extent.
}

// tables finds every names row with data below it, in the order of the file.
func (w window) tables(delim byte) (found []table, headers []row) {
	rows := w.rows(delim)
	past := 0 // Behind the last table that cannot have a clock: its own rows are not tried for names without a hint of time.
	for h := 0; h < len(rows); h++ {
		if !namesRow(&rows[h]) || unitsAbove(rows, h+1) {
			continue
		}
		t, ok := tableAt(rows, h, delim)
		if ok {
			hint := t.hint()
			if ok = hint || h >= past; ok {
				ok = t.chooseNames() && t.measure()
			}
			if ok && !hint {
				past = t.last
			}
		}
		if !ok {
			if len(rows)-h <= maxExtra && timed(&rows[h]) {
				headers = append(headers, rows[h])
			}
			continue
		}
		found = append(found, t)
	}
	return found, headers
}

// tableAt reads the header block that starts at row h and measures the rows below it.
func tableAt(rows []row, h int, delim byte) (table, bool) {
	t := table{delim: delim, rows: rows, names: h, units: -1, data: -1}
	for i := h + 1; i < len(rows) && i <= h+maxExtra; i++ {
		r := &rows[i]
		switch {
		case r.last == 0:
		case unitsRow(r) && t.units < 0:
			t.units = i
		case idsRow(rows, i):
			t.extra = append(t.extra, i)
		case r.values > 0 && len(r.cells) > 1:
			t.data = i
		case r.wordy() && len(t.extra) < 3:
			t.extra = append(t.extra, i)
		}
		if t.data >= 0 {
			break
		}
	}
	if t.units < 0 && unitsAbove(rows, h) {
		t.units = h - 1
	}
	return t, t.data >= 0
}

// unitsAbove reports a names row with a row of units and nothing else above it.
func unitsAbove(rows []row, names int) bool {
	if names < 1 || names >= len(rows) {
		return false
	}
	above, r := &rows[names-1], &rows[names]
	if len(above.cells) != len(r.cells) || unitsRow(r) || !namesRow(r) || !timed(r) || !unitsRow(above) {
		return false
	}
	for i, c := range above.cells {
		if s := text(unmark(c)); i == 0 && s != "" && secondsPer(bare(s)) == 0 || above.kinds[i] == word && !unitLike(bare(s)) {
			return false
		}
	}
	return true
}

// hint reports a header that speaks of time in a name or unit, or dates or times of day in the first row below it.
func (t *table) hint() bool {
	for _, k := range t.rows[t.data].kinds {
		if k == moment {
			return true
		}
	}
	heads := append([]int{t.names, t.units}, t.extra...)
	for _, h := range heads {
		if h < 0 {
			continue
		}
		for i, c := range t.rows[h].cells {
			if t.rows[h].kinds[i] != word || len(c) > 64 {
				continue
			}
			name, unit := splitName(text(unmark(c)))
			if timeName(name) > 0 || secondsPer(unit) > 0 || h == t.units && secondsPer(bare(name)) > 0 {
				return true
			}
		}
	}
	return false
}

// idsRow reports a row of numbers that are no data: a units row comes behind it, or it counts the columns through.
func idsRow(rows []row, i int) bool {
	r := &rows[i]
	if r.filled == 0 || r.values < r.filled {
		return false
	}
	counts := r.filled >= 3 && r.filled == r.last
	for j, c := range r.cells {
		if r.kinds[j] == empty {
			continue
		}
		if bytes.ContainsAny(c, ".,:") {
			return false
		}
		if v, n := plain(c, 0, unseen); n != len(c) || v != float64(j) && v != float64(j+1) {
			counts = false
		}
	}
	if counts {
		a, _ := plain(r.cells[0], 0, unseen)
		b, _ := plain(r.cells[1], 0, unseen)
		if b == a+1 {
			return true
		}
	}
	for j := i + 1; j < len(rows) && j <= i+2; j++ {
		if next := &rows[j]; next.last > 0 && unitsRow(next) && next.values == 0 && len(next.cells) >= len(r.cells)/2 {
			return true
		}
	}
	return false
}

// chooseNames takes the row that names a time for the names where two rows of texts stand above the data. It is false when
// the first of them is no header row at all but the last line of a preamble.
func (t *table) chooseNames() bool {
	first := &t.rows[t.names]
	for i, e := range t.extra {
		r := &t.rows[e]
		if !r.wordy() || !timed(r) || r.filled < first.filled || timed(first) && r.filled == first.filled {
			continue
		}
		if len(first.cells) != len(r.cells) || first.filled*2 < r.filled && first.last*2 < r.last {
			return false
		}
		t.extra[i], t.names = t.names, e
		return true
	}
	return true
}

// measure finds how far the table goes and how wide it is. It is false when the rows do not fit the names.
func (t *table) measure() bool {
	names := &t.rows[t.names]
	counts := map[int]int{}
	t.last = t.data
	fits := 0
	for i := t.data; i < len(t.rows); i++ {
		r := &t.rows[i]
		if r.last == 0 {
			continue
		}
		if r.values == 0 && (namesRow(r) || len(r.cells) < 2) {
			break
		}
		t.last = i + 1
		t.size++
		counts[r.last]++
		if len(r.cells)*2 >= names.last {
			fits++
		}
	}
	t.width = names.last
	seen := 0
	for n, c := range counts {
		if n > t.width && c*2 > t.size {
			t.width = n
		}
		seen += c
	}
	if names.filled*2 < t.width {
		return false
	}
	if n := len(t.rows[t.data].cells); t.delim == blanks && len(names.cells) != n && !names.widen(n) {
		return false
	}
	return fits*2 >= seen || t.size <= 2
}

// sample gives the first data rows.
func (t *table) sample() []row {
	rows := t.rows[t.data:t.last]
	return rows[:min(len(rows), maxSample)]
}

// numeric is the share of the sample's filled cells that are numbers or moments: a wrong delimiter leaves texts.
func (t *table) numeric() float64 {
	filled, values := 1, 0
	for _, r := range t.sample() {
		filled += r.filled
		values += r.values
	}
	return float64(values) / float64(filled)
}
