package plot

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

// marks are a panel's limits and lines of reference.
func (b *builder) marks(groups []group) []Mark {
	var marks []Mark
	add := func(stored float64, limit, upper bool) {
		m := Mark{Y: b.y.Shown(stored), Limit: limit, Upper: upper, Text: plain(b.y.Text(stored))}
		if b.y.Unit != "" {
			m.Text += " " + b.y.Unit
		}
		switch {
		case limit && upper:
			m.Text = "limit " + m.Text
		case limit:
			m.Text = "at least " + m.Text
		}
		if !slices.ContainsFunc(marks, func(o Mark) bool { return o.Y == m.Y && (o.Limit || !limit) }) {
			marks = append(marks, m)
		}
	}
	for _, l := range b.bounds(groups) {
		if !math.IsNaN(l.Max) {
			add(l.Max, true, true)
		}
		if !math.IsNaN(l.Min) {
			add(l.Min, true, false)
		}
	}
	for _, y := range b.picture.Levels {
		add(y, false, false)
	}
	return marks
}

// bounds finds the limits that hold for a panel's series: from a column of the answer, else from limits.yaml.
func (b *builder) bounds(groups []group) []schema.Limit {
	name := b.picture.Limit
	if name == "" {
		return nil
	}
	var list []schema.Limit
	at, inAnswer := b.at[name]
	for _, g := range groups {
		if inAnswer && name != b.picture.Y {
			for _, r := range g.rows {
				if v := b.rows[r][at]; v != nil {
					list = append(list, schema.Limit{Max: number(v), Min: math.NaN()})
					break
				}
			}
			continue
		}
		platform := b.value(g, "platform")
		duty := b.value(g, "duty")
		if duty == "" {
			duty = b.o.Duty[platform]
		}
		if l, ok := schema.LimitFor(b.o.Limits, name, b.value(g, "vehicle"), platform, duty, b.value(g, "test")); ok {
			list = append(list, l)
		}
	}
	return list
}

// passed tells which series stand beyond a limit, and where first along x.
func (p Panel) passed(c Chart, m Mark) string {
	var text string
	for _, s := range p.Series {
		for i, y := range s.Y {
			if m.Upper && y > m.Y || !m.Upper && y < m.Y {
				text += fmt.Sprintf("; %s passes it at %s", s.Name, c.X.text(s.X[i]))
				break
			}
		}
	}
	return text
}

// Words tells a panel's key numbers, for whoever cannot see it.
func (p Panel) Words(c Chart) string {
	text := ""
	for _, s := range p.Series {
		lo, hi, last := 0, 0, len(s.Y)-1
		for i, y := range s.Y {
			if y < s.Y[lo] {
				lo = i
			}
			if y > s.Y[hi] {
				hi = i
			}
		}
		text += fmt.Sprintf("%s: from %s to %s; lowest %s at %s, highest %s at %s, at the end %s. ", s.Name, c.X.text(slices.Min(s.X)), c.X.text(slices.Max(s.X)),
			c.Y.text(s.Y[lo]), c.X.text(s.X[lo]), c.Y.text(s.Y[hi]), c.X.text(s.X[hi]), c.Y.text(s.Y[last]))
	}
	for _, m := range p.Marks {
		if m.Limit {
			beyond := p.passed(c, m)
			if beyond == "" {
				beyond = "; no series passes it"
			}
			text += upper(m.Text) + beyond + ". "
		}
	}
	if c.equal {
		text += "A line shows where both are equal. "
	}
	return text
}

// Heading names a panel with what it shows.
func (p Panel) Heading(c Chart) string {
	h := upper(c.Y.Title) + " by " + c.X.Title
	if p.Name != "" {
		h += ", " + p.Name
	}
	return h
}

// style gives each series of a chart its look: one name has one look in every panel where the names are few.
func (b *builder) style(c *Chart) {
	var names []string
	ranks := map[string]int{}
	for _, p := range c.Panels {
		for _, s := range p.Series {
			if !slices.Contains(names, s.Name) {
				names = append(names, s.Name)
			}
			ranks[s.Name] = max(ranks[s.Name], b.o.Order[Tested{s.vehicle, s.version}])
		}
	}
	slices.SortStableFunc(names, func(p, q string) int { return ranks[p] - ranks[q] })
	for i := range c.Panels {
		series := c.Panels[i].Series
		for j := range series {
			switch at := slices.Index(names, series[j].Name); {
			case !c.latest:
				series[j].Style = j // Numbered ones keep their order.
			case len(names) <= maxSeries:
				series[j].Style = len(names) - 1 - at
			default:
				series[j].Style = len(series) - 1 - j
			}
		}
	}
}

// plain drops the zeros at a number's end.
func plain(s string) string {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
