package delimited

import (
	"bytes"
)

const (
	maxStray = 100 // Lines among the rows that are kept as notes.
	maxVain  = 200 // Lines tried as another table's header without finding one, each at the cost of a window: more are no headers.
)

// stray deals with a line that is no row: the header again, another header, a comment, damage, what stands behind the table.
// It returns the plan of a table with other columns that begins with the line; flush is called before.
func (r *run) stray(p *plan, line []byte, flush func() error) (*plan, error) {
	at := r.scan.line - 1
	bare := trim(line)
	if len(bare) == 0 {
		return nil, nil
	}
	for i, h := range p.headers {
		if sameLine(h, line) {
			if i == 0 {
				r.tally.add("repeated_header", at, nil)
			}
			return nil, nil
		}
	}
	if bytes.IndexByte(line, 0) >= 0 {
		r.tally.add("nul_bytes", at, nil)
		return nil, nil
	}
	if bare[0] == '#' || bytes.HasPrefix(bare, []byte("//")) {
		r.keepStray("comment_line", at, line)
		return nil, nil
	}
	w := window{b: line, eol: r.scan.eol, line: at}
	rows := w.rows(p.delim)
	switch {
	case len(rows) == 0 || rows[0].last == 0:
	case r.vain < maxVain && namesRow(&rows[0]) && timed(&rows[0]):
		return r.another(p, line, flush)
	case rows[0].values == 0 || len(rows[0].cells) < 2:
		r.keepStray("text_beyond_table", at, line)
	default:
		r.tally.add("row_without_time", at, line)
	}
	return nil, nil
}

func (r *run) keepStray(code string, at int, line []byte) {
	r.tally.add(code, at, line)
	if r.odd++; r.odd <= maxStray {
		r.sink.Note("", text(line[:min(len(line), maxNote)]))
	}
}

// cutLast counts a last line that is cut, or was never written.
func (r *run) cutLast(line []byte) {
	if bytes.IndexByte(line, 0) >= 0 {
		r.tally.add("nul_bytes", r.scan.line-1, nil)
		return
	}
	r.tally.add("cut_last_line", r.scan.line-1, line)
}

// another plans the table that a header among the rows begins.
func (r *run) another(p *plan, line []byte, flush func() error) (*plan, error) {
	kept := append([]byte(nil), line...)
	r.scan.back()
	w, err := r.window()
	if err != nil {
		return nil, err
	}
	var seen search
	next, _ := w.under(p.delim, r.tally, r.notes.facts, &seen)
	if next == nil || next.headerOff != 0 {
		r.vain++
		_, n := lineEnd(w.b, 0, w.eol)
		r.scan.skip(n, 1)
		r.keepStray("text_beyond_table", r.scan.line-1, kept)
		return nil, nil
	}
	if next.sameColumns(p) {
		r.tally.add("repeated_header", r.scan.line, nil)
		r.scan.skip(next.taken, next.lines)
		return nil, nil
	}
	r.tally.add("changed_header", r.scan.line, kept)
	if err := flush(); err != nil {
		return nil, err
	}
	next.takeOver(p)
	r.enter(next)
	return next, nil
}

// sameColumns reports two headers that differ in no name, unit or clock.
func (p *plan) sameColumns(o *plan) bool {
	if len(p.cols) != len(o.cols) || len(p.bundles) != len(o.bundles) || (p.long == nil) != (o.long == nil) {
		return false
	}
	for i := range p.cols {
		if p.cols[i].name != o.cols[i].name || p.cols[i].unit != o.cols[i].unit {
			return false
		}
	}
	for i := range p.bundles {
		if p.bundles[i].clock.col != o.bundles[i].clock.col || p.bundles[i].clock.form != o.bundles[i].clock.form {
			return false
		}
	}
	return true
}

// takeOver goes on with the clocks of the table before where half of the columns are the same, so that a restart is seen over
// the new header, and a dated clock keeps its t = 0.
func (p *plan) takeOver(o *plan) {
	names := map[string]bool{}
	for _, c := range o.cols {
		names[c.name] = true
	}
	same := 0
	for _, c := range p.cols {
		if names[c.name] {
			same++
		}
	}
	for i := range p.bundles {
		k, was := &p.bundles[i].clock, &o.bundles[min(i, len(o.bundles)-1)].clock
		if k.form != was.form {
			continue
		}
		if k.form == dateTime || k.form == dateAside || k.form == serial {
			k.base, k.day0, k.start, k.zoned = was.base, was.day0, was.start, was.zoned
		}
		if same*2 >= len(p.cols) {
			k.follow = was.follow
		}
	}
}
