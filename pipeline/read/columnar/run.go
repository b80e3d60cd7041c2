package columnar

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"

	"dynolake/schema"
)

// batch is rows that lie beside each other: a cell of each column, and time.
type batch struct {
	n     int
	cells []cells // One a column.
}

// run is the reading of one source.
type run struct {
	ctx  context.Context
	name string
	sink schema.Sink
	from *records

	cols     []column
	clock    *clock
	channels []int // Columns that are channels.
	group    int
	out      schema.Batch
	rows     int
	first    float64
	last     float64
	restarts int
	timeless int
	infinite int
}

func (r *run) all() error {
	var left []string
	r.cols, left = columns(r.from.form)
	for {
		if err := r.ctx.Err(); err != nil {
			return err
		}
		rec, err := r.from.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			if r.rows == 0 || r.ctx.Err() != nil || !errors.Is(err, io.ErrUnexpectedEOF) {
				return fmt.Errorf("%s: %w", r.name, err)
			}
			r.find(schema.Doubt, "file_cut", math.NaN(), fmt.Sprintf("%v: the %d rows before it are kept", err, r.rows))
			break
		}
		if err := r.record(rec); err != nil {
			return err
		}
	}
	if r.clock == nil {
		return r.noClock()
	}
	if r.rows == 0 {
		return fmt.Errorf("%s: no row has a time: expected numbers or times in column %q", r.name, r.clock.Name)
	}
	r.report(left)
	return nil
}

func (r *run) noClock() error {
	var names []string
	for _, c := range r.cols {
		names = append(names, fmt.Sprintf("%s (%s)", c.name, c.kind))
	}
	if len(names) > 20 {
		names = append(names[:20], fmt.Sprintf("and %d more", len(names)-20))
	}
	return fmt.Errorf("%s: a time channel is missing among the columns %q: expected a column of a timestamp type, or numbers that rise under a name such as time or t_s", r.name, names)
}

// record passes on the rows of one record.
func (r *run) record(rec arrow.RecordBatch) error {
	if n := rec.NumRows(); n > r.from.most {
		return fmt.Errorf("%s: a batch claims %d rows: expected at most %d in a file of this size: it is damaged", r.name, n, r.from.most)
	}
	cells := make([]cells, len(r.cols))
	for i, c := range r.cols {
		cells[i] = find(rec, c.path)
	}
	lists := false
	for lo := 0; lo < int(rec.NumRows()); lo += batchRows {
		if err := r.ctx.Err(); err != nil {
			return err
		}
		b := cut(cells, r.cols, lo, min(lo+batchRows, int(rec.NumRows())))
		if r.clock == nil {
			if r.clock = choose(r.plain(), b); r.clock == nil {
				lists = true
				break
			}
			if err := r.declare(false); err != nil {
				return err
			}
		}
		if r.cols[r.clock.col].list {
			lists = true
			break
		}
		if err := r.pass(b); err != nil {
			return err
		}
	}
	if !lists {
		return nil
	}
	for i := range int(rec.NumRows()) {
		if err := r.unfold(cells, i); err != nil {
			return err
		}
	}
	return nil
}

// plain is the columns with those of lists made unfit for a clock, so that their places stay.
func (r *run) plain() []column {
	cols := slices.Clone(r.cols)
	for i := range cols {
		if cols[i].list {
			cols[i] = column{kind: arrow.Null}
		}
	}
	return cols
}

// find walks to a column's values.
func find(rec arrow.RecordBatch, path []int) cells {
	c := cells{arr: rec.Column(path[0])}
	for _, i := range path[1:] {
		s, ok := c.arr.(*array.Struct)
		if !ok {
			return cells{}
		}
		c.outer = append(c.outer, s)
		c.arr = s.Field(i)
	}
	return c
}

func cut(all []cells, cols []column, lo, hi int) batch {
	b := batch{n: hi - lo, cells: make([]cells, len(all))}
	for i, c := range all {
		if !cols[i].list {
			c.lo = lo
			b.cells[i] = c
		}
	}
	return b
}

// unfold passes on one row's lists, where time is one.
func (r *run) unfold(all []cells, row int) error {
	lists, length := make([]cells, len(all)), make([]int, len(all))
	longest := 0
	for i, c := range all {
		if l, ok := c.arr.(array.ListLike); ok && r.cols[i].list && !c.missing(row) {
			lo, hi := l.ValueOffsets(row)
			lists[i], length[i] = cells{arr: l.ListValues(), lo: int(lo)}, int(hi-lo)
			longest = max(longest, length[i])
		}
	}
	if r.clock == nil {
		k := choose(r.cols, batch{min(longest, batchRows), lists})
		if k == nil || !r.cols[k.col].list {
			return nil
		}
		r.clock = k
		if err := r.declare(true); err != nil {
			return err
		}
	}
	n := length[r.clock.col]
	for i := range lists {
		if length[i] != n {
			lists[i] = cells{}
		}
	}
	for lo := 0; lo < n; lo += batchRows {
		b := batch{min(batchRows, n-lo), slices.Clone(lists)}
		for i := range b.cells {
			b.cells[i].lo += lo
		}
		if err := r.pass(b); err != nil {
			return err
		}
	}
	return nil
}

// declare tells the sink what there is. The clock is no channel of its own.
func (r *run) declare(lists bool) error {
	g := schema.Group{Clock: r.clock.Clock}
	for i, c := range r.cols {
		if i == r.clock.col || i == r.clock.fine || c.list != lists {
			continue
		}
		r.channels = append(r.channels, i)
		if c.unit == "" && c.kind.ID() == arrow.DURATION {
			c.unit = "s"
		}
		g.Channels = append(g.Channels, schema.Channel{Name: c.name, Unit: c.unit, Comment: c.comment})
	}
	if len(g.Channels) == 0 {
		return fmt.Errorf("%s: there is no channel beside the time %q: expected columns of numbers or texts", r.name, r.clock.Name)
	}
	var err error
	r.group, err = r.sink.Group(g)
	r.out.Values = make([][]float64, len(g.Channels))
	return err
}

// pass hands a batch to the sink.
func (r *run) pass(b batch) error {
	r.empty()
	for i := range b.n {
		t, ok := r.clock.at(b, i)
		if !ok || math.IsNaN(t) || math.IsInf(t, 0) {
			r.timeless++
			continue
		}
		if r.rows == 0 {
			r.first = t
		} else if t < r.last && t <= r.first+0.05*(r.last-r.first) && r.last-r.first > 1 {
			if err := r.restart(); err != nil {
				return err
			}
			r.first = t
		}
		r.last = t
		r.rows++
		r.out.T = append(r.out.T, t)
		for k, col := range r.channels {
			v, text := b.cells[col].read(i)
			if math.IsInf(v, 0) {
				r.infinite++
				v = math.NaN()
			}
			if text != "" {
				r.out.Texts = append(r.out.Texts, schema.Text{Row: len(r.out.T) - 1, Channel: k, Text: text})
			}
			r.out.Values[k] = append(r.out.Values[k], v)
		}
	}
	return r.flush()
}

func (r *run) empty() {
	r.out.T, r.out.Texts = r.out.T[:0], r.out.Texts[:0]
	for k := range r.out.Values {
		r.out.Values[k] = r.out.Values[k][:0]
	}
}

func (r *run) flush() error {
	if len(r.out.T) == 0 {
		return nil
	}
	err := r.sink.Rows(r.group, r.out)
	r.empty()
	return err
}

func (r *run) restart() error {
	if err := r.flush(); err != nil {
		return err
	}
	r.restarts++
	r.find(schema.Note, "recorder_restarted", float64(r.restarts), "time falls back to near its beginning: a new run starts there")
	return r.sink.Restart()
}

func (r *run) find(severity schema.Severity, code string, value float64, text string) {
	nan := math.NaN()
	r.sink.Find(schema.Finding{Source: r.name, Severity: severity, Code: code, Text: text, Value: value, T0S: nan, T1S: nan})
}

// report tells what was left out and assumed.
func (r *run) report(left []string) {
	lists := r.cols[r.clock.col].list
	for _, c := range r.cols {
		if c.list != lists {
			left = append(left, c.name)
		}
	}
	if len(left) > 0 {
		r.find(schema.Doubt, "columns_not_read", float64(len(left)), "columns that are no channels on this clock were left out: "+strings.Join(left, ", "))
	}
	if r.clock.guessed != "" {
		r.find(schema.Doubt, "time_unit_assumed", math.NaN(), fmt.Sprintf("clock %q: %s", r.clock.Name, r.clock.guessed))
	}
	if r.timeless > 0 {
		r.find(schema.Doubt, "rows_without_time", float64(r.timeless), fmt.Sprintf("%d rows have no time in %q and were left out", r.timeless, r.clock.Name))
	}
	if r.infinite > 0 {
		r.find(schema.Note, "infinite_values", float64(r.infinite), fmt.Sprintf("%d infinite values were taken as missing", r.infinite))
	}
}
