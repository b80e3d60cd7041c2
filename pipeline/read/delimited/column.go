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

// judgeMoments reads dates and times of day.
func (c *column) judgeMoments(s *sample, level int) {
	var dates, times, both, two, fraction, zoned, half int
	for i := range s.rows {
		st, ok := parseStamp(s.cell(i, c.at), false)
		if !ok {
			continue
		}
		switch {
		case st.hasDate && st.hasTime:
			both++
		case st.hasDate:
			dates++
		default:
			times++
		}
		if st.parts == 2 {
			two++
		}
		fraction = max(fraction, st.decimals)
		if st.zoned {
			zoned++
		}
		if st.hour12 {
			half++
		}
	}
	c.clock.monthFirst = c.monthFirst(s, half > 0)
	c.clock.step = math.Pow10(-fraction)
	switch {
	case both*10 >= (both+dates+times)*9:
		c.clock.form, c.clock.unit = dateTime, "date and time"
		c.clock.zoned = zoned > 0 || hasWord(c.name, "utc", "gmt")
	case dates > 0 && times == 0 && both == 0:
		c.dateOnly = true
		c.clock.form = dateTime
		return
	case two == times && times > 0:
		c.clock.form, c.clock.unit = minSec, "m:s"
		if strings.Contains(strings.ToLower(c.unit), "h:m") || strings.Contains(strings.ToLower(c.unit), "hh:mm") && !strings.Contains(strings.ToLower(c.unit), "mm:s") {
			c.clock.form, c.clock.unit, c.clock.step = hourMin, "h:m", 60
		}
	case times > 0:
		c.clock.form, c.clock.unit = timeOfDay, "time of day"
	default:
		return
	}
	c.setBase(s)
	c.trace(s)
	rising := c.climbs >= 2 && c.falls*10 <= c.climbs
	if level == 2 || level == 1 && rising || rising && c.clock.form != minSec || rising && c.at == 0 {
		c.rank, c.why = 2, "its cells are "+c.clock.unit
	}
	if level == 0 && c.rank == 2 && c.clock.form != dateTime && c.at > 0 {
		c.rank = 1
	}
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
	if per == 0 && c.unit != "" && !timeUnits[strings.ToLower(c.unit)] {
		if u, ok := schema.ParseUnit(c.unit); ok && u.Quantity != "ratio" {
			return
		}
	}
	if level == 0 && (per == 0 || c.at > 0 || !c.named || namesDuration(c.name)) {
		return
	}
	values, decimals, whole := c.values(s)
	if len(values) == 0 {
		return
	}
	c.interpret(s, per, values, decimals, whole)
	c.trace(s)
	steady := c.falls <= 2 || c.falls*4 <= c.climbs
	single := len(words(c.name)) == 1 && len(words(c.name)[0]) == 1
	switch {
	case level == 2 && (!single || per > 0 || c.falls*10 <= c.climbs):
		c.rank, c.why = 2, "its name says time"
		if !steady {
			c.rank, c.why = 1, "its name says time, though its values do not rise"
		}
	case steady && c.climbs >= 2 && c.falls*100 <= c.climbs && (level == 1 || c.climbs >= len(values)-1-len(values)/20):
		c.rank, c.why = 1, "its name or unit speaks of time and its values rise"
	}
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

// interpret finds the unit of a numeric clock: from the header, else from its size and steps.
func (c *column) interpret(s *sample, per float64, values []float64, decimals int, whole bool) {
	k := &c.clock
	if per == 0 {
		if w := unitInName(c.name); w != "" {
			per = secondsPer(w)
			k.unit = w
		}
	}
	lowest, typical := values[0], steps(values)
	for _, v := range values {
		lowest = min(lowest, v)
	}
	k.form = elapsed
	switch e := epochUnit(lowest); {
	case e > 0 && (per == 0 || per == e || per == 1):
		per, k.form, k.zoned, k.unit = e, epoch, true, map[float64]string{1: "s", 1e-3: "ms", 1e-6: "us", 1e-9: "ns"}[e]
	case (per == 0 || per == 86400) && lowest >= 25569 && lowest < 73050 && !whole && typical < 0.02:
		k.form, k.unit, k.day0 = serial, "days", firstOf(values)
		k.start = serialTime(k.day0)
		c.guessed(s, "clock_unit_guessed", schema.Doubt, "its numbers are read as days since 1899-12-30, as spreadsheets count; state a unit in the header if that is wrong", 86400, "s")
	case per == 0:
		per = c.guessUnit(s, typical, whole)
	}
	switch k.form {
	case epoch:
		k.start = time0
	case serial:
		per = 86400
	}
	k.mul, k.div = scale(per)
	k.step = per * math.Pow10(-min(decimals, 15))
	if decimals == 0 {
		k.step = per
	}
}

func firstOf(values []float64) float64 { return values[0] }

// scale gives a unit as a factor and a divisor that are both whole, so that 1234 ms is exactly the float 1.234.
func scale(per float64) (mul, div float64) {
	if per > 0 && per < 1 {
		return 1, math.Round(1 / per)
	}
	return per, 1
}

// epochUnit tells counts from 1970 by their size: between 2000 and 2100 in s, ms, us or ns. It is 0 for other numbers.
func epochUnit(v float64) float64 {
	for _, u := range []float64{1, 1e-3, 1e-6, 1e-9} {
		if s := v * u; s >= 946684800 && s < 4102444800 {
			return u
		}
	}
	return 0
}

// steps is the median of the steps forward.
func steps(values []float64) float64 {
	var d []float64
	for i := 1; i < len(values); i++ {
		if x := values[i] - values[i-1]; x > 0 {
			d = append(d, x)
		}
	}
	return median(d)
}

// guessUnit takes a unit where the header names none. Recorders of this kind give between one row in some seconds and some
// thousand rows a second: steps of five and more are milliseconds, of ten thousand and more microseconds.
func (c *column) guessUnit(s *sample, typical float64, whole bool) float64 {
	per, name := 1.0, "s"
	switch {
	case typical >= 1e4:
		per, name = 1e-6, "us"
	case typical >= 5:
		per, name = 1e-3, "ms"
	}
	c.clock.unit = name
	sev := schema.Doubt
	if per == 1 && (!whole || typical == 1) {
		sev = schema.Note
	}
	c.guessed(s, "clock_unit_guessed", sev, fmt.Sprintf("its header states no unit; by its steps of %.4g it is read as %s; state the unit in the header if that is wrong", typical, name), per, "s")
	return per
}

func (c *column) guessed(s *sample, code string, sev schema.Severity, what string, value float64, unit string) {
	f := s.num.tally.finding(sev, code, c.name, fmt.Sprintf("%s:%d:%d %s: %s", s.num.tally.source, s.line, c.at+1, c.name, what), value, unit)
	c.guess = &f
}

// trace follows the clock through the sample.
func (c *column) trace(s *sample) {
	f, prev, n := follower{}, math.NaN(), 0
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

// monthFirst decides what the first number of 03/05/2019 is: from a row in which only one reading is a date, else from the
// smallest step between dates, else from AM and PM, units and signs. The last is a guess and a finding.
func (c *column) monthFirst(s *sample, half bool) bool {
	var days, months, either int
	span := [2]int64{}
	var prev [2]int64
	first := true
	for i := range s.rows {
		cell := s.cell(i, c.at)
		d, ok := parseStamp(cell, false)
		if !ok || !d.hasDate {
			continue
		}
		m, _ := parseStamp(cell, true)
		switch d.order {
		case dayLeads:
			days++
		case monthLeads:
			months++
		}
		if _, tell := orderOf(d); tell {
			either++
		}
		for j, v := range [2]int64{d.days, m.days} {
			if !first {
				span[j] += abs(v - prev[j])
			}
			prev[j] = v
		}
		first = false
	}
	switch {
	case days+months > 0:
		return months > days
	case either == 0:
		return false
	case span[0] != span[1]:
		return span[1] < span[0]
	}
	us := half || s.american
	readAs := "day/month"
	if us {
		readAs = "month/day"
	}
	c.guessed(s, "date_order_guessed", schema.Doubt, "day and month could be either way round; dates are read as "+readAs+" by the other cells of the file; write years first to be sure", math.NaN(), "")
	return us
}

// orderOf reports whether a stamp's day and month could change places.
func orderOf(s stamp) (order, bool) { return s.order, s.order == either }

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}
