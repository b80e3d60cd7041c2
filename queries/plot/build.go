package plot

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// builder turns rows into the panels of one picture.
type builder struct {
	pack    *packs.Pack
	picture packs.Picture
	columns []result.Column
	rows    [][]any
	o       Options

	at     map[string]int // Of each column.
	x, y   result.Measure
	groups []group
}

// group is the rows of one series, in the order of the answer.
type group struct {
	by   []string
	rows []int
}

func chart(pack *packs.Pack, p packs.Picture, columns []result.Column, rows [][]any, o Options) (Chart, error) {
	b := &builder{pack: pack, picture: p, columns: columns, rows: rows, o: o, at: map[string]int{}}
	for i, c := range columns {
		b.at[c.Name] = i
	}
	for _, n := range p.Columns() {
		if _, ok := b.at[n]; !ok {
			return Chart{}, fmt.Errorf("draw %s: its plot names the column %q, which the answer has not", pack.Name, n)
		}
	}
	c := Chart{Title: pack.Title, kind: p.Kind, equal: p.Equal, latest: slices.Contains(p.By, "calibration")}
	c.X, b.x = b.axis(p.X)
	c.Y, b.y = b.axis(p.Y)
	if err := b.group(); err != nil {
		return Chart{}, err
	}
	b.panels(&c)
	b.style(&c)
	return c, nil
}

func (b *builder) axis(name string) (Axis, result.Measure) {
	col := b.columns[b.at[name]]
	m := result.MeasureOf(col, result.Options{Units: b.o.Units, Declared: b.pack.Units()})
	a := Axis{Column: name, Title: Quantity(name), Unit: m.Unit, Decimals: m.Decimals}
	if col.Kind == result.Time || col.Kind == result.Date || name == "date" {
		a.Time, a.Unit = true, ""
	}
	return a, m
}

// group sorts the rows into series and checks that what is drawn is numbers.
func (b *builder) group() error {
	index := map[string]int{}
	for r, row := range b.rows {
		for _, n := range []string{b.picture.X, b.picture.Y} {
			if v := row[b.at[n]]; v != nil && math.IsNaN(number(v)) {
				return fmt.Errorf("draw %s: column %s holds %q, want numbers or dates to draw", b.pack.Name, n, result.Plain(v))
			}
		}
		if row[b.at[b.picture.X]] == nil || row[b.at[b.picture.Y]] == nil {
			continue
		}
		by := make([]string, len(b.picture.By))
		for i, n := range b.picture.By {
			by[i] = name(row[b.at[n]])
		}
		key := strings.Join(by, "\x00")
		i, ok := index[key]
		if !ok {
			i = len(b.groups)
			index[key] = i
			b.groups = append(b.groups, group{by: by})
		}
		b.groups[i].rows = append(b.groups[i].rows, r)
	}
	return nil
}

// name writes a value that tells series apart.
func name(v any) string {
	if v == nil {
		return "not named"
	}
	if f, ok := v.(float64); ok && f == math.Trunc(f) {
		v = int64(f)
	}
	return result.Harmless(result.Plain(v))
}

// number gives a value as a float, a time as days; NaN for what is none.
func number(v any) float64 {
	switch v := v.(type) {
	case float64:
		return v
	case float32:
		return float64(v)
	case int64:
		return float64(v)
	case result.Fixed:
		return v.Float64()
	case time.Time:
		return float64(v.UnixMilli()) / 86400e3
	case result.Day:
		return float64(v.Unix()) / 86400
	case string:
		if t, err := time.Parse(time.DateOnly, v); err == nil {
			return float64(t.Unix()) / 86400
		}
	}
	return math.NaN()
}

// panels shares the series out: the finest of the columns in By names them, the coarser ones make the panels.
func (b *builder) panels(c *Chart) {
	by := b.picture.By
	lead := max(0, len(by)-1)
	for lead > 1 && b.most(lead) == 1 {
		lead-- // Series alone in a panel of their own share the next coarser one.
	}
	var names []string
	members := map[string][]group{}
	for _, g := range b.groups {
		key := strings.Join(g.by[:lead], "\x00")
		if members[key] == nil {
			names = append(names, key)
		}
		members[key] = append(members[key], g)
	}
	for _, key := range names {
		for _, part := range b.shorten(c, members[key], lead) {
			if len(c.Panels) < maxPanels {
				c.Panels = append(c.Panels, b.panel(part, lead))
			} else {
				c.LeftOut = append(c.LeftOut, strings.Join(part[0].by[:lead], ", "))
			}
		}
	}
}

// most is the largest number of series in a panel when lead columns make the panels.
func (b *builder) most(lead int) int {
	count, most := map[string]int{}, 0
	for _, g := range b.groups {
		key := strings.Join(g.by[:lead], "\x00")
		count[key]++
		most = max(most, count[key])
	}
	return most
}

// shorten sorts a panel's series and keeps it within maxSeries: numbered ones and vehicles go on in a further panel, of a
// vehicle's calibrations the first and the latest stay.
func (b *builder) shorten(c *Chart, all []group, lead int) [][]group {
	slices.SortStableFunc(all, func(p, q group) int { return cmp.Compare(b.rank(p), b.rank(q)) })
	if len(all) <= maxSeries {
		return [][]group{all}
	}
	last := b.columns[b.at[b.picture.By[len(b.picture.By)-1]]]
	if lead < len(b.picture.By)-1 || last.Kind == result.Int || last.Kind == result.Float64 {
		var parts [][]group
		for part := range slices.Chunk(all, maxSeries) {
			parts = append(parts, part)
		}
		return parts
	}
	cut := len(all) - maxSeries + 1
	for _, g := range all[1:cut] {
		c.LeftOut = append(c.LeftOut, strings.Join(g.by, ", "))
	}
	return [][]group{append(all[:1:1], all[cut:]...)}
}

// rank is when a series' calibration was first run on its vehicle.
func (b *builder) rank(g group) int {
	t := b.tested(g)
	if r, ok := b.o.Order[t]; ok {
		return r
	}
	return 0
}

func (b *builder) tested(g group) Tested {
	return Tested{b.value(g, "vehicle"), b.value(g, "calibration")}
}

// value is what all rows of a series have in a column, or nothing.
func (b *builder) value(g group, column string) string {
	i, ok := b.at[column]
	if !ok || len(g.rows) == 0 || b.rows[g.rows[0]][i] == nil {
		return ""
	}
	return result.Plain(b.rows[g.rows[0]][i])
}

func (b *builder) panel(groups []group, lead int) Panel {
	p := Panel{Keys: map[string]string{}}
	for i, n := range b.picture.By[:lead] {
		p.Keys[n] = groups[0].by[i]
		if p.Name != "" {
			p.Group = strings.TrimPrefix(p.Group+", "+p.Name, ", ")
		}
		p.Name = b.say(n, groups[0].by[i])
	}
	for _, g := range groups {
		s := Series{Name: b.label(g, lead), vehicle: b.value(g, "vehicle"), version: b.value(g, "calibration")}
		for _, r := range g.rows {
			s.X = append(s.X, b.shown(r, b.picture.X, b.x))
			s.Y = append(s.Y, b.shown(r, b.picture.Y, b.y))
			if b.picture.Low != "" {
				s.Low = append(s.Low, b.shown(r, b.picture.Low, b.y))
				s.High = append(s.High, b.shown(r, b.picture.High, b.y))
			}
		}
		p.Series = append(p.Series, s)
	}
	p.Marks = b.marks(groups)
	return p
}

// label names a series by what the panel does not say already.
func (b *builder) label(g group, lead int) string {
	var words []string
	for i, n := range b.picture.By[lead:] {
		words = append(words, b.say(n, g.by[lead+i]))
	}
	return strings.Join(words, ", ")
}

// say writes a number with the name of its column, and a name as it is.
func (b *builder) say(column, value string) string {
	if k := b.columns[b.at[column]].Kind; k == result.Int || k == result.Float64 {
		return strings.ReplaceAll(column, "_", " ") + " " + value
	}
	return value
}

func (b *builder) shown(row int, column string, m result.Measure) float64 {
	v := b.rows[row][b.at[column]]
	if v == nil {
		return math.NaN()
	}
	return m.Shown(number(v))
}
