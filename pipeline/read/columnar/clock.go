package columnar

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/apache/arrow-go/v18/arrow"

	"dynolake/schema"
)

// clock reads the time of each row.
type clock struct {
	col, fine int     // Columns; fine is the nanoseconds beside whole seconds, -1 without.
	factor    float64 // Seconds a tick.
	counts    bool    // Whole ticks, taken from base on.
	base      int64   // Ticks of t = 0, where the clock counts from 1970.
	dated     bool    // t = 0 is the first row, whose instant is known.
	schema.Clock
	guessed string // What was assumed of its unit; empty when nothing was.
}

// at gives the seconds of a row.
func (k *clock) at(b batch, i int) (float64, bool) {
	c := b.cells[k.col]
	if !k.counts {
		v, _ := c.read(i)
		return v * k.factor, !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	n, ok := c.whole(i)
	if !ok {
		return 0, false
	}
	t := float64(n-k.base) * k.factor
	if k.fine >= 0 {
		ns, ok := b.cells[k.fine].whole(i)
		if !ok {
			return 0, false
		}
		t += float64(ns) * 1e-9
	}
	return t, true
}

// words that name a clock, the surest first; the last segment of a name is held against them without its unit.
var words = []string{"time", "timestamp", "elapsed", "elapsed_time", "elapsedtime", "t", "ts", "zeit", "clock", "datetime", "date_time", "seconds", "sec", "secs", "s",
	"nanoseconds", "ns", "us", "ms", "milliseconds", "microseconds", "index_time", "offset", "relative_time", "rel_time", "stamp", "epoch"}

// unitEnds are endings of a name that say the unit of a time, the longest first.
var unitEnds = []struct {
	end     string
	seconds float64
}{
	{"nanoseconds", 1e-9}, {"microseconds", 1e-6}, {"milliseconds", 1e-3}, {"seconds", 1}, {"minutes", 60}, {"nanos", 1e-9}, {"micros", 1e-6}, {"millis", 1e-3},
	{"secs", 1}, {"sec", 1}, {"min", 60}, {"ns", 1e-9}, {"us", 1e-6}, {"µs", 1e-6}, {"ms", 1e-3}, {"s", 1},
}

// named tells how surely a name is a clock's, 0 for not at all, and what its ending says of the unit.
func named(name string) (sure int, seconds float64) {
	whole := strings.ToLower(name)
	last := whole[strings.LastIndexByte(whole, '.')+1:]
	stem := last
	for _, u := range unitEnds {
		if rest, ok := strings.CutSuffix(last, u.end); ok && (rest == "" || strings.HasSuffix(rest, "_") || strings.HasSuffix(rest, " ") || strings.HasSuffix(rest, "-")) {
			stem, seconds = strings.TrimRight(rest, "_ -"), u.seconds
			break
		}
	}
	if stem == "" {
		stem = last
	}
	for i, w := range words {
		if stem == w || last == w {
			return 100 - i, seconds
		}
	}
	if strings.HasSuffix(stem, "time") || strings.HasSuffix(stem, "timestamp") || strings.HasPrefix(stem, "time_") {
		return 40, seconds
	}
	if i := strings.LastIndexByte(whole, '.'); i > 0 && seconds != 0 { // time.ns: the outer name says what it is.
		if outer, _ := named(whole[:i]); outer > 0 {
			return outer - 1, seconds
		}
	}
	return 0, seconds
}

// choose finds the clock among the columns by their types, names and first rows. It is nil when there is none.
func choose(cols []column, b batch) *clock {
	var stamp, best *clock
	score := 0
	for i, c := range cols {
		sure, seconds := named(c.name)
		if c.kind.ID() == arrow.TIMESTAMP {
			if k := stamped(i, c); rises(k, b) && (stamp == nil || sure > score) {
				stamp = k
			}
			continue
		}
		if sure <= score {
			continue
		}
		if k := counted(cols, i, seconds, b); k != nil && rises(k, b) {
			best, score = k, sure
		}
	}
	if best == nil || best.dated && stamp != nil {
		best = stamp
	}
	if best == nil {
		return nil
	}
	if stamp != nil && best != stamp && !best.dated {
		begin(stamp, b)
		for i := range b.n {
			own, ok1 := best.at(b, i)
			t, ok2 := stamp.at(b, i)
			if ok1 && ok2 {
				best.Start, best.Zoned = stamp.Start.Add(time.Duration(math.Round((t-own)*1e9))), stamp.Zoned
				break
			}
		}
	}
	begin(best, b)
	best.Name = cols[best.col].name
	return best
}

func stamped(i int, c column) *clock {
	t := c.kind.(*arrow.TimestampType)
	k := &clock{col: i, fine: -1, factor: tick(t.Unit), counts: true, dated: true}
	k.Unit, k.Zoned, k.Step = "timestamp["+t.Unit.String()+"]", t.TimeZone != "", k.factor
	return k
}

// counted makes a clock of a column that is no timestamp; nil where its type cannot be one.
func counted(cols []column, i int, seconds float64, b batch) *clock {
	c := cols[i]
	k := &clock{col: i, fine: -1, factor: 1}
	k.Unit = c.unit
	if u, ok := schema.ParseUnit(c.unit); ok && u.Quantity == "time" {
		s, _ := schema.ParseUnit("s")
		k.factor, _ = u.Convert(1, s)
	} else if seconds != 0 {
		k.factor = seconds
	} else if u, ok := schema.ParseUnit(c.unit); ok && u.Quantity != "time" {
		return nil
	}
	stated := k.factor != 1 || seconds != 0 || c.unit != ""
	switch c.kind.ID() {
	case arrow.TIME32:
		k.counts, k.factor, k.Unit = true, tick(c.kind.(*arrow.Time32Type).Unit), "time of day"
	case arrow.TIME64:
		k.counts, k.factor, k.Unit = true, tick(c.kind.(*arrow.Time64Type).Unit), "time of day"
	case arrow.DURATION:
		k.counts, k.factor, k.Unit = true, tick(c.kind.(*arrow.DurationType).Unit), "s"
	case arrow.INT32, arrow.UINT32, arrow.INT64, arrow.UINT64, arrow.INT16, arrow.UINT16:
		k.counts = true
		k.fine = beside(cols, i)
		k.count(b, stated)
	case arrow.FLOAT64, arrow.FLOAT32:
		k.since(b, stated)
	default:
		return nil
	}
	if k.Unit == "" {
		k.Unit = map[float64]string{1: "s", 1e-3: "ms", 1e-6: "us", 1e-9: "ns", 60: "min"}[k.factor]
	}
	return k
}

// beside finds the nanoseconds that stand beside whole seconds in one structure; -1 without.
func beside(cols []column, i int) int {
	last := func(c column) string { return strings.ToLower(c.name[strings.LastIndexByte(c.name, '.')+1:]) }
	switch last(cols[i]) {
	case "sec", "secs", "seconds", "s":
	default:
		return -1
	}
	for j, c := range cols {
		if len(c.path) != len(cols[i].path) || len(c.path) < 2 || fmt.Sprint(c.path[:len(c.path)-1]) != fmt.Sprint(cols[i].path[:len(c.path)-1]) {
			continue
		}
		switch last(c) {
		case "nanosec", "nanosecs", "nanos", "nsec", "nsecs", "nanoseconds", "ns":
			return j
		}
	}
	return -1
}

// epochs are the ranges, from 2001 to 2128, in which a whole number is a count from 1970.
var epochs = []struct {
	least   float64
	seconds float64
	unit    string
}{{1e18, 1e-9, "ns"}, {1e15, 1e-6, "us"}, {1e12, 1e-3, "ms"}, {1e9, 1, "s"}}

// count looks at what a clock of whole numbers counts.
func (k *clock) count(b batch, stated bool) {
	n, ok := int64(0), false
	for i := 0; i < b.n && !ok; i++ {
		n, ok = b.cells[k.col].whole(i)
	}
	k.epoch(math.Abs(float64(n)), stated)
}

// since looks at whether a clock of other numbers counts from 1970.
func (k *clock) since(b batch, stated bool) {
	v := math.NaN()
	for i := 0; i < b.n && math.IsNaN(v); i++ {
		v, _ = b.cells[k.col].read(i)
	}
	k.epoch(math.Abs(v), stated)
}

func (k *clock) epoch(n float64, stated bool) {
	for _, e := range epochs {
		if n < e.least || n > 5*e.least || stated && e.seconds != k.factor {
			continue
		}
		if !stated {
			k.guessed = fmt.Sprintf("its numbers, from %.0f on, are read as %s since 1970", n, e.unit)
			k.Unit = e.unit
		}
		k.factor = e.seconds
		k.dated, k.Zoned = k.counts, true
		if !k.counts {
			k.Start = time.Unix(0, 0).UTC()
		}
		return
	}
	if !stated && k.counts && k.fine < 0 {
		k.guessed = "no unit: s assumed; name it in the column's metadata (unit) or its name (time_ms) if it is not"
	}
}

// begin sets t = 0 of a clock that counts from 1970 to its first row.
func begin(k *clock, b batch) {
	if !k.dated || !k.Start.IsZero() {
		return
	}
	for i := range b.n {
		n, ok := b.cells[k.col].whole(i)
		if !ok {
			continue
		}
		k.base = n
		ticks := int64(math.Round(1 / k.factor))
		k.Start = time.Unix(floor(n, ticks), (n-floor(n, ticks)*ticks)*(1e9/ticks)).UTC()
		return
	}
}

func floor(n, by int64) int64 {
	q := n / by
	if n%by < 0 {
		q--
	}
	return q
}

// rises reports whether a clock's first rows go up more than down, and not all stand still.
func rises(k *clock, b batch) bool {
	up, down, n, last := 0, 0, 0, 0.0
	for i := range b.n {
		t, ok := k.at(b, i)
		if !ok {
			continue
		}
		if n > 0 && t > last {
			up++
		} else if n > 0 && t < last {
			down++
		}
		last = t
		n++
	}
	return up > down && up > 0 || n == 1
}
