package delimited

import (
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// bundle is the columns that share one clock.
type bundle struct {
	clock    clock
	channels []int // Columns.
}

// plan is how a table is read: its delimiter, decimal sign, clocks and what each column is.
type plan struct {
	delim, eol byte
	point      byte
	cols       []column
	bundles    []bundle
	long       *roles
	width      int
	headers    [][]byte // The header's lines, to know them when they come again.
	taken      int      // Bytes from the window's start to the first data row,
	lines      int      // and lines.
	header     int      // Line number of the names row.
	headerOff  int      // Bytes before the names row,
	guesses    []schema.Finding
	size       int
	why        string
}

// roles are the columns of a long table: a row a value.
type roles struct{ name, value, unit int }

// planTable decides how a table is read. Without a clock it returns nil and the columns for the error message.
func planTable(t *table, w window, r *tally) (*plan, []column) {
	s := &sample{rows: t.sample(), line: t.rows[t.names].line}
	s.num = numerals{point: s.point(t.delim), tally: newTally(r.source)}
	point := s.num.point
	cols := t.columns()
	s.american = speaksAmerican(cols, point, t.delim)
	for i := range cols {
		c := &cols[i]
		c.survey(s.rows)
		s.suffix = append(s.suffix, c.suffix)
		if !c.named {
			c.name = fmt.Sprintf("column %d", i+1)
		}
		c.judge(s)
	}
	p := &plan{delim: t.delim, eol: w.eol, point: point, cols: cols, width: t.width, header: t.rows[t.names].line, size: t.size}
	p.keepHeader(t)
	switch {
	case p.asLong(s):
	case p.asPaired():
	case p.asWide(s):
	default:
		return nil, cols
	}
	for i := range p.bundles {
		if g := p.cols[p.bundles[i].clock.col].guess; g != nil {
			p.guesses = append(p.guesses, *g)
		}
	}
	return p, cols
}

// keepHeader notes where the header's lines stand and drops a first data row that turns out to hold ids.
func (p *plan) keepHeader(t *table) {
	top := t.names
	if t.units >= 0 {
		top = min(top, t.units)
	}
	for _, e := range t.extra {
		top = min(top, e)
	}
	data := t.data
	p.headerOff = t.rows[top].off
	for i := top; i < data; i++ {
		if t.rows[i].last > 0 {
			p.headers = append(p.headers, append([]byte(nil), t.rows[i].raw...))
		}
	}
	p.taken = t.rows[data].off
	p.lines = t.rows[data].line - t.rows[0].line
}

// asWide takes one clock for all columns: of those that are surely clocks the one that moves most often, then a plain number
// before a time of day before a date, then the plainer name, then the first. A clock that only may be one serves when there
// is no other.
func (p *plan) asWide(s *sample) bool {
	date, at := p.dateColumn(), -1
	best := -1.0
	for i := range p.cols {
		c := &p.cols[i]
		if c.rank == 0 {
			continue
		}
		score := c.weight()
		if score > best {
			best, at = score, i
		}
	}
	if at < 0 {
		return false
	}
	c := &p.cols[at]
	k := c.clock
	if k.form == timeOfDay && !k.packed && date >= 0 {
		k = p.joined(c, date, s)
	}
	p.dateFrom(&k, at, date, s)
	if c.rank == 1 {
		p.guesses = append(p.guesses, s.num.tally.finding(schema.Doubt, "clock_doubtful", c.name,
			fmt.Sprintf("%s:%d:%d %s: taken for the clock because %s; name a column of rising times to be sure", s.num.tally.source, s.line, at+1, c.name, c.why), 0.5, ""))
	}
	b := bundle{clock: k}
	for i := range p.cols {
		if i != at && i != k.date && p.cols[i].kept() {
			b.channels = append(b.channels, i)
		}
	}
	p.bundles = []bundle{b}
	p.why = fmt.Sprintf("a header row with a time channel: %q (%s)", c.name, k.unit)
	return len(b.channels) > 0
}

// kept reports a column that is read: one with a name, or with values among the first rows.
func (c *column) kept() bool { return c.named || c.filled > 0 || c.voids > 0 }

// weight orders clocks: the finer one wins where both move as often.
func (c *column) weight() float64 {
	w := 1000 * float64(c.rank)
	w += 100 * float64(int(c.distinct*20+0.5)) / 20
	switch c.clock.form {
	case elapsed:
		w += 3
	case timeOfDay, minSec, hourMin:
		w += 2
	case epoch, serial, dateTime:
		w++
	}
	w -= max(-3, min(0, math.Log10(max(c.clock.step, 1e-9))))
	return w - 0.1*float64(len(words(c.name))) - 1e-4*float64(c.at)
}

// dateColumn is the first column of dates without times, -1 when there is none.
func (p *plan) dateColumn() int {
	for i := range p.cols {
		if p.cols[i].dateOnly {
			return i
		}
	}
	return -1
}

// joined makes one clock of a date column and a time-of-day column.
func (p *plan) joined(c *column, date int, s *sample) clock {
	k := c.clock
	k.form, k.date, k.unit, k.monthFirst = dateAside, date, "date and time", p.cols[date].clock.monthFirst
	k.name = p.cols[date].name + " " + c.name
	if g := p.cols[date].guess; g != nil {
		p.guesses = append(p.guesses, *g)
	}
	col := column{at: c.at, name: k.name, clock: k}
	col.setBase(s)
	return col.clock
}

// dateFrom dates t = 0 of an elapsed clock by another column that tells date and time.
func (p *plan) dateFrom(k *clock, at, date int, s *sample) {
	if !k.start.IsZero() {
		return
	}
	for i := range p.cols {
		c := &p.cols[i]
		if i == at || c.rank == 0 {
			continue
		}
		other := c.clock
		if other.form == timeOfDay && !other.packed && date >= 0 {
			other = p.joined(c, date, s)
		}
		for j := range s.rows {
			when, ok := other.instant(s.cell(j, other.col), s.cell(j, other.date), &s.num)
			t, timed := k.read(s.cell(j, k.col), nil, &s.num, 0)
			if ok && timed {
				k.start, k.zoned, k.startFrom = before(when, t), other.zoned, &other
				return
			}
		}
	}
}

// asPaired finds clocks that stand beside their channels: clocks of one name (Time, RPM, Time, Boost), or named after the
// channel beside them (RPM time, RPM, Boost time, Boost).
func (p *plan) asPaired() bool {
	var clocks []int
	for i := range p.cols {
		if c := &p.cols[i]; c.rank > 0 || c.named && timeName(c.name) == 2 && c.filled == 0 {
			clocks = append(clocks, i)
		}
	}
	if len(clocks) < 2 {
		return false
	}
	before := clocks[0] > 0 && clocks[len(clocks)-1] == len(p.cols)-1
	for _, c := range p.cols[:clocks[0]] {
		if !before && c.filled > 0 {
			return false
		}
	}
	var bundles []bundle
	for n, at := range clocks {
		from, to := at+1, len(p.cols)
		if n+1 < len(clocks) {
			to = clocks[n+1]
		}
		if before {
			from, to = 0, at
			if n > 0 {
				from = clocks[n-1] + 1
			}
		}
		b := bundle{clock: p.cols[at].clock}
		for i := from; i < to; i++ {
			if p.cols[i].kept() {
				b.channels = append(b.channels, i)
			}
		}
		if len(b.channels) == 0 || !p.together(clocks[0], at, b.channels) {
			return false
		}
		bundles = append(bundles, b)
	}
	p.bundles = bundles
	p.why = fmt.Sprintf("a header row with %d clocks, each beside its channels: %q first", len(bundles), p.cols[clocks[0]].name)
	return true
}

// together reports that a clock has the first one's name, numbers aside, or is named after one of its channels.
func (p *plan) together(first, at int, channels []int) bool {
	name := words(p.cols[at].name)
	if strings.Join(name, " ") == strings.Join(words(p.cols[first].name), " ") {
		return true
	}
	for _, ch := range channels {
		own := words(p.cols[ch].name)
		for _, w := range name {
			if timeCore[w] || timeAside[w] {
				continue
			}
			for _, o := range own {
				if o == w {
					return true
				}
			}
		}
	}
	return false
}
