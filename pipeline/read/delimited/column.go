package delimited

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"dynolake/schema"
)

// column is one column of a table as its header and its first rows show it.
type column struct {
	at            int
	name, unit    string
	comment       string
	named         bool
	filled        int // Of the sample: cells that hold something, voids not counted,
	numbers       int // of these numbers,
	moments       int // and dates or times.
	voids         int // NaN and the like.
	texts         int // Different texts, up to 64.
	changes       int // Rows whose text differs from the row before.
	clock         clock
	rank          int     // 2 surely a clock, 1 perhaps, 0 not.
	why           string  // Of the rank, for people.
	distinct      float64 // Share of the sample's rows that move the clock.
	guess         *schema.Finding
	suffix        []byte // The unit that every cell repeats behind its number.
	dateOnly      bool
	falls, climbs int
}

// survey counts what a column's cells are.
func (c *column) survey(rows []row) {
	seen := map[string]bool{}
	var prev []byte
	for i := range rows {
		r := &rows[i]
		if c.at >= len(r.cells) {
			continue
		}
		cell := r.cells[c.at]
		switch r.kinds[c.at] {
		case number:
			c.numbers++
			c.filled++
			if c.suffix == nil {
				c.suffix = unitBehind(cell)
			}
		case moment:
			c.moments++
			c.filled++
		case word:
			c.filled++
			if len(seen) < 64 {
				seen[string(cell)] = true
			}
			if !bytes.Equal(cell, prev) {
				c.changes++
			}
			prev = cell
		case missing, infinite:
			c.voids++
		}
	}
	c.texts = len(seen)
	if c.suffix != nil && c.unit == "" {
		c.unit = bare(text(trim(c.suffix)))
	}
}

// judge decides whether the column is a clock and how it is read. The header alone does not make one, nor do rising values
// alone: a speed axis rises too.
func (c *column) judge(s *sample) {
	c.clock = clock{col: c.at, date: -1, name: c.name, unit: c.unit, mul: 1, div: 1}
	level := timeName(c.name)
	if !c.named {
		level = 0
	}
	switch {
	case c.filled == 0:
	case c.moments*10 >= c.filled*9 || level == 2 && c.moments*2 >= c.filled:
		c.judgeMoments(s, level)
	case c.numbers*10 >= c.filled*9 || level == 2 && c.numbers*2 >= c.filled:
		c.judgeNumbers(s, level)
	}
}

// stamps counts what a column's dates and times are.
type stamps struct{ dates, times, both, two, decimals, fewest, zoned, half int }

func (c *column) stamps(s *sample) (n stamps) {
	for i := range s.rows {
		st, ok := parseStamp(s.cell(i, c.at), false)
		if !ok {
			continue
		}
		switch {
		case st.hasDate && st.hasTime:
			n.both++
		case st.hasDate:
			n.dates++
		default:
			n.times++
		}
		n.two += one(st.parts == 2)
		n.zoned += one(st.zoned)
		n.half += one(st.hour12)
		n.decimals = max(n.decimals, st.decimals)
		if st.decimals > 0 && (n.fewest == 0 || st.decimals < n.fewest) {
			n.fewest = st.decimals
		}
	}
	return n
}

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}

// judgeMoments reads dates and times of day.
func (c *column) judgeMoments(s *sample, level int) {
	n := c.stamps(s)
	c.clock.monthFirst = c.monthFirst(s, n.half > 0)
	c.clock.step = math.Pow10(-n.decimals)
	switch {
	case n.both*10 >= (n.both+n.dates+n.times)*9:
		c.clock.form, c.clock.unit = dateTime, "date and time"
		c.clock.zoned = n.zoned > 0 || hasWord(c.name, "utc", "gmt")
	case n.dates > 0 && n.times == 0 && n.both == 0:
		c.dateOnly = true
		c.clock.form = dateTime
		return
	case n.two == n.times && n.times > 0:
		c.clock.form, c.clock.unit = minSec, "m:s"
		if u := strings.ToLower(c.unit); strings.Contains(u, "h:m") && !strings.Contains(u, "m:s") {
			c.clock.form, c.clock.unit, c.clock.step = hourMin, "h:m", 60
		}
	case n.times > 0:
		c.clock.form, c.clock.unit = timeOfDay, "time of day"
	default:
		return
	}
	c.setBase(s)
	c.trace(s)
	if n.decimals == 3 && n.fewest < 3 && c.falls > 0 {
		c.unpadded(s)
	}
	c.rankMoments(level)
}

// unpadded reads the digits behind the seconds as a count of milliseconds where that makes a clock rise that falls when they are
// decimals: recorders write 7 ms as 10:15:30:7.
func (c *column) unpadded(s *sample) {
	was := *c
	c.clock.millis, c.clock.step = true, 1e-3
	c.setBase(s)
	c.trace(s)
	if c.falls*10 > was.falls {
		*c = was
		return
	}
	open := c.guess // Of the order of day and month.
	c.guessed(s, "milliseconds_unpadded", schema.Note, "read with decimals behind its seconds it falls again and again; as a count of milliseconds it rises, and is read so", float64(was.falls), "rows")
	if open != nil {
		open.Text += "; " + c.guess.Text
		c.guess = open
	}
}

// rankMoments says how surely a column of dates or times is the clock.
func (c *column) rankMoments(level int) {
	rising := c.climbs >= 2 && c.falls*10 <= c.climbs
	sure := c.clock.form != minSec || c.at == 0 || level == 1
	switch {
	case level < 2 && (!rising || !sure):
		return
	case level == 0 && c.clock.form != dateTime && c.at > 0:
		c.rank = 1
	default:
		c.rank = 2
	}
	c.why = "its cells are " + c.clock.unit
}

// setBase puts t = 0 of a dated clock on its first row.
func (c *column) setBase(s *sample) {
	if c.clock.form != dateTime && c.clock.form != dateAside {
		return
	}
	for i := range s.rows {
		if ns, ok := c.clock.nanos(s.cell(i, c.at), s.cell(i, c.clock.date)); ok {
			c.clock.base = ns
			c.clock.start, _ = c.clock.instant(s.cell(i, c.at), s.cell(i, c.clock.date), &s.num)
			return
		}
	}
}

// judgeNumbers reads numbers as a time where name or unit say that they are one.
func (c *column) judgeNumbers(s *sample, level int) {
	per := secondsPer(c.unit)
	if per == 0 && c.otherUnit() || level == 0 && (per == 0 || c.at > 0 || !c.named || namesDuration(c.name)) {
		return
	}
	values, decimals, whole := c.values(s)
	if len(values) == 0 {
		return
	}
	c.interpret(s, per, values, decimals, whole)
	c.trace(s)
	c.rankNumbers(level, per > 0, len(values))
}

// rankNumbers says how surely a column of numbers is the clock. A single letter needs a unit of time or values that rise.
func (c *column) rankNumbers(level int, unit bool, n int) {
	mostly, nearly := c.falls <= 2 || c.falls*4 <= c.climbs, c.falls*10 <= c.climbs
	rises := c.climbs >= 2 && c.falls*100 <= c.climbs
	named := level == 2 && (unit || nearly || len(words(c.name)) > 1 || len(words(c.name)[0]) > 1)
	switch {
	case named && mostly:
		c.rank, c.why = 2, "its name says time"
	case named:
		c.rank, c.why = 1, "its name says time, though its values do not rise"
	case rises && (level > 0 || c.climbs >= n-1-n/20):
		c.rank, c.why = 1, "its name or unit speaks of time and its values rise"
	}
}

// otherUnit reports a unit that is none of time.
func (c *column) otherUnit() bool {
	u, ok := schema.ParseUnit(c.unit)
	return ok && u.Quantity != "ratio" && !timeUnits[strings.ToLower(c.unit)]
}

func namesDuration(name string) bool {
	for _, w := range words(name) {
		if timeNot[w] {
			return true
		}
	}
	return false
}

func hasWord(name string, want ...string) bool {
	for _, w := range words(name) {
		for _, x := range want {
			if w == x {
				return true
			}
		}
	}
	return false
}

// values gives the sample's numbers, the most decimals met and whether all are whole.
func (c *column) values(s *sample) (values []float64, decimals int, whole bool) {
	whole = true
	for i := range s.rows {
		cell := s.cell(i, c.at)
		v, ok := s.num.parse(cell, s.rows[i].line)
		if !ok {
			continue
		}
		values = append(values, v)
		whole = whole && v == math.Trunc(v)
		if p := bytes.LastIndexAny(cell, ".,"); p >= 0 {
			decimals = max(decimals, len(cell)-p-1)
		}
	}
	return values, decimals, whole
}

func (c *column) guessed(s *sample, code string, sev schema.Severity, what string, value float64, unit string) {
	f := s.num.tally.finding(sev, code, c.name, fmt.Sprintf("%s:%d:%d %s: %s", s.num.tally.source, s.line, c.at+1, c.name, what), value, unit)
	c.guess = &f
}

// trace follows the clock through the sample.
func (c *column) trace(s *sample) {
	f, prev, n := follower{}, math.NaN(), 0
	c.climbs, c.falls = 0, 0
	k := c.clock
	for i := range s.rows {
		t, ok := k.read(s.cell(i, c.at), s.cell(i, k.date), &s.num, s.rows[i].line)
		if !ok {
			continue
		}
		t, ev := f.next(t, k.form)
		n++
		switch {
		case t > prev || ev == fellBack:
			c.climbs++
		case t < prev:
			c.falls++
		}
		prev = t
	}
	c.distinct = float64(c.climbs+1) / float64(max(n, 1))
}
