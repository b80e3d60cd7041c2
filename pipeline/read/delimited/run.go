package delimited

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"dynolake/schema"
)

// run reads one source.
type run struct {
	ctx     context.Context
	name    string
	scan    *scanner
	sink    schema.Sink
	tally   *tally
	notes   notes
	seen    search
	texts   map[string]string // Texts met, so that a state costs one string and not one a row.
	parts   int               // Restarts given to the sink.
	carried float64           // Most that a long table's clock was carried on.
	rows    int64
	odd     int // Lines kept as notes behind the table's start.
	vain    int // Lines tried as another table's header that were none.
}

// all reads the file to its end.
func (r *run) all() error {
	p, err := r.first()
	if err != nil {
		return err
	}
	for p != nil {
		if p, err = r.table(p); err != nil {
			return err
		}
	}
	if r.rows == 0 {
		r.tally.report(r.sink)
		return fmt.Errorf("%s:%d:1: no row below the header could be read: expected rows with a time and values", r.name, r.scan.line)
	}
	r.tally.report(r.sink)
	return nil
}

// first passes the preamble and finds the table. Only a window's worth of lines is held, so a preamble may have any length.
func (r *run) first() (*plan, error) {
	for {
		if err := r.ctx.Err(); err != nil {
			return nil, err
		}
		w, err := r.window()
		if err != nil {
			return nil, err
		}
		if len(w.b) == 0 {
			return nil, r.seen.fail(r.name)
		}
		p := w.find(r.tally, r.notes.facts, &r.seen)
		if p != nil && (w.all || p.headerOff <= len(w.b)/2) {
			r.preamble(w.b[:p.headerOff], p.delim)
			r.enter(p)
			return p, nil
		}
		half := len(w.b)
		if !w.all {
			half = len(w.b) / 2
		}
		delim := guessDelim(w.b)
		if p != nil {
			delim, half = p.delim, min(half, p.headerOff)
		}
		taken, lines := r.preamble(w.b[:nextLine(w, half)], delim)
		r.scan.skip(taken, lines)
	}
}

// window peeks at the lines ahead.
func (r *run) window() (window, error) {
	b, err := r.scan.peek(windowBytes)
	if err != nil {
		return window{}, err
	}
	all := r.scan.eof && len(b) == r.scan.end-r.scan.pos
	r.seen.text = r.seen.text || len(trim(trimReturn(b))) > 0
	return view(b, r.scan.eol, r.scan.line, all), nil
}

// nextLine moves an offset to a line's start, one line at least.
func nextLine(w window, off int) int {
	if off > 0 {
		off--
	}
	_, next := lineEnd(w.b, off, w.eol)
	return next
}

// guessDelim is the commonest delimiter of lines that belong to no table.
func guessDelim(b []byte) byte {
	best, most := byte(','), 0
	for _, d := range []byte{';', '\t', ',', '|'} {
		n := 0
		for _, c := range b {
			if c == d {
				n++
			}
		}
		if n > most {
			best, most = d, n
		}
	}
	return best
}

// preamble keeps lines as notes and says how many bytes and lines they are.
func (r *run) preamble(b []byte, delim byte) (taken, lines int) {
	for taken < len(b) {
		end, next := lineEnd(b, taken, r.scan.eol)
		r.notes.add(trimReturn(b[taken:end]), delim, r.scan.line+lines)
		taken = next
		lines++
	}
	return taken, lines
}

// enter moves to the table's first data row.
func (r *run) enter(p *plan) {
	r.scan.skip(p.taken, p.lines)
	for i := range p.bundles {
		r.notes.date(&p.bundles[i].clock, p.header)
	}
	for _, g := range p.guesses {
		r.sink.Find(g)
	}
}

// restart begins the next part, unless another lane has begun it already.
func (r *run) restart(l *lane, lanes []*lane) error {
	if l.falls++; l.falls <= r.parts {
		if err := l.flush(r.sink); err != nil {
			return err
		}
		return l.redate(r.sink)
	}
	r.parts = l.falls
	for _, x := range lanes {
		if err := x.flush(r.sink); err != nil {
			return err
		}
	}
	r.tally.add("recorder_restart", r.scan.line-1, nil)
	if err := r.sink.Restart(); err != nil {
		return err
	}
	return l.redate(r.sink)
}

// intern keeps one string a text.
func (r *run) intern(cell []byte) string {
	if s, ok := r.texts[string(cell)]; ok {
		return s
	}
	if len(r.texts) >= 4096 {
		clear(r.texts)
	}
	s := text(cell)
	if len(cell) <= 256 {
		r.texts[string(cell)] = s
	}
	return s
}

// source wraps an error with the file's name.
func (r *run) source(err error) error {
	if err == nil || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	if strings.HasPrefix(err.Error(), r.name+":") {
		return err
	}
	return fmt.Errorf("%s: %w", r.name, err)
}

// nextRecord takes the line just handed out again, with the lines that its quoted cells run over.
func (r *run) nextRecord(p *plan, want int, dst [][]byte) ([][]byte, error) {
	r.scan.back()
	b, err := r.scan.peek(maxQuoted)
	if err != nil {
		return nil, err
	}
	if len(b) == 0 {
		return nil, io.EOF
	}
	cells, taken, lines := record(b, p.delim, r.scan.eol, want, dst)
	r.scan.skip(taken, lines)
	return cells, nil
}
