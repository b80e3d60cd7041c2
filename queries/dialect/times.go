package dialect

import (
	"slices"
	"strings"
)

// partOf is a part of a day or instant, by its name: year(t) or date_part('year', t).
func partOf(c *call, args []value) value {
	name := c.name
	if name == "date_part" || name == "datepart" {
		arity(c, 2)
		if args[0].lit == nil || args[0].lit.kind != Text {
			fail(c.at, "%s wants the part's name in quotes", c.name)
		}
		name, args = strings.ToLower(args[0].lit.text), args[1:]
	} else {
		arity(c, 1)
	}
	click, ok := map[string]string{"year": "toYear", "quarter": "toQuarter", "month": "toMonth", "week": "toISOWeek", "day": "toDayOfMonth", "dayofmonth": "toDayOfMonth", "dow": "toDayOfWeek", "dayofweek": "toDayOfWeek",
		"isodow": "toDayOfWeek", "doy": "toDayOfYear", "dayofyear": "toDayOfYear", "hour": "toHour", "minute": "toMinute", "second": "toSecond", "epoch": "epoch"}[name]
	k := args[0].kind
	if !ok || !k.time() {
		fail(c.at, "%s of %s is not translated", name, k)
	}
	text := args[0].sql
	if k.Base == Date && slices.Contains([]string{"toHour", "toMinute", "toSecond", "epoch"}, click) {
		text = "toDateTime64(" + text + ", 6, 'UTC')"
	}
	switch {
	case click == "epoch":
		return value{sql: "toUnixTimestamp64Micro(" + text + ") / 1000000.", kind: Type{Base: Double}}
	case name == "dow", name == "dayofweek": // From Sunday, which is 0.
		return value{sql: "toInt64(toDayOfWeek(" + text + ") % 7)", kind: Type{Base: BigInt}, simple: true}
	}
	return value{sql: "toInt64(" + click + "(" + text + "))", kind: Type{Base: BigInt}, simple: true}
}

func truncate(c *call, args []value) value {
	arity(c, 2)
	units := map[string]string{"year": "toStartOfYear", "quarter": "toStartOfQuarter", "month": "toStartOfMonth", "week": "toMonday", "day": "toStartOfDay", "hour": "toStartOfHour", "minute": "toStartOfMinute"}
	if args[0].lit == nil || units[strings.ToLower(args[0].lit.text)] == "" || !args[1].kind.time() {
		fail(c.at, "date_trunc wants 'year', 'quarter', 'month', 'week', 'day', 'hour' or 'minute' and a day or instant")
	}
	kind := args[1].kind
	if kind.Base == Date {
		kind.Base = Timestamp
	}
	unit := units[strings.ToLower(args[0].lit.text)]
	return value{sql: "toDateTime64(" + unit + "(" + convert(args[1], kind) + "), 6, 'UTC')", kind: kind, simple: true}
}

// difference is how many bounds of the unit lie between two days or instants.
func difference(c *call, args []value) value {
	arity(c, 3)
	if args[0].lit == nil || !slices.Contains([]string{"year", "quarter", "month", "day", "hour", "minute", "second"}, args[0].lit.text) {
		fail(c.at, "date_diff wants 'year', 'quarter', 'month', 'day', 'hour', 'minute' or 'second'")
	}
	kind := widestOf(c.at, args[1:])
	if !kind.time() {
		fail(c.at, "date_diff of %s and %s, want days or instants", args[1].kind, args[2].kind)
	}
	return value{sql: "toInt64(dateDiff(" + args[0].sql + ", " + convert(args[1], kind) + ", " + convert(args[2], kind) + "))", kind: Type{Base: BigInt}, simple: true}
}

// strftime writes a time by a form of %Y %m %d %H %M %S %j and %%.
func strftime(c *call, args []value) value {
	arity(c, 2)
	if !args[0].kind.time() || args[1].lit == nil {
		fail(c.at, "strftime wants a day or instant and a form in quotes")
	}
	form := args[1].lit.text
	var b strings.Builder
	for i := 0; i < len(form); i++ {
		if form[i] != '%' {
			b.WriteByte(form[i])
			continue
		}
		i++
		if i == len(form) || !strings.ContainsRune("YmdHMSj%", rune(form[i])) {
			fail(c.at, "strftime is translated with %%Y %%m %%d %%H %%M %%S %%j alone")
		}
		b.WriteByte('%')
		if form[i] == 'M' {
			b.WriteByte('i')
		} else {
			b.WriteByte(form[i])
		}
	}
	return value{sql: "formatDateTime(" + args[0].sql + ", " + quoteText(b.String()) + ")", kind: Type{Base: Text}, simple: true}
}

// interval is a length of time that is added to a day or instant.
type interval struct {
	count int
	unit  string
	at    int
}

// units of intervals, by name, with ClickHouse's.
func units() map[string]string {
	return map[string]string{"year": "Years", "month": "Months", "week": "Weeks", "day": "Days", "hour": "Hours", "minute": "Minutes", "second": "Seconds"}
}

// interval reads `5 days`, `'5 days'` or `'5' days` behind INTERVAL.
func (p *parser) interval(at int) expr {
	l := p.here()
	words := strings.Fields(l.text)
	if l.kind != number && l.kind != text || len(words) < 1 || len(words) > 2 {
		fail(at, "INTERVAL is translated of one number and unit alone: INTERVAL 5 days")
	}
	p.i++
	if len(words) == 1 {
		words = append(words, strings.ToLower(p.here().raw))
		p.i++
	}
	n, sign := strings.CutPrefix(words[0], "-")
	unit := strings.TrimSuffix(strings.ToLower(words[1]), "s")
	if units()[unit] == "" || n == "" || len(n) > 6 || strings.Trim(n, "0123456789") != "" {
		fail(at, "INTERVAL is translated of one whole number of years, months, weeks, days, hours, minutes or seconds alone")
	}
	count := atoiSmall(n)
	if sign {
		count = -count
	}
	return &interval{count, unit, at}
}

// shifted adds an interval to a day, which becomes an instant, or to an instant; false where neither side is one.
func (w *writer) shifted(x *binary, e *env) (value, bool) {
	l, r := x.left, x.right
	if _, ok := l.(*interval); ok && x.operator == "+" {
		l, r = r, l
	}
	i, ok := r.(*interval)
	if !ok {
		return value{}, false
	}
	v := w.value(l, e)
	if !v.kind.time() || x.operator != "+" && x.operator != "-" {
		fail(i.at, "INTERVAL %s %s is not translated", x.operator, v.kind)
	}
	kind := v.kind
	if kind.Base == Date {
		kind.Base = Timestamp
	}
	count := i.count
	if x.operator == "-" {
		count = -count
	}
	return value{sql: "add" + units()[i.unit] + "(" + convert(v, kind) + ", " + itoa(count) + ")", kind: kind, simple: true}, true
}

// extract reads EXTRACT(unit FROM value).
func (p *parser) extract(at int) expr {
	p.i++
	p.must("(")
	unit := p.here()
	p.i++
	p.mustKeyword("from")
	v := p.expr()
	p.must(")")
	return &call{name: "date_part", args: []expr{&literal{Text, unit.text, unit.at}, v}, at: at}
}
