package report

import (
	"context"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"dynolake/queries/plot"
)

// section is a heading with its figures and tables.
type section struct {
	ID, Title, Lead string
	Figures         []figure
	Tables          []table
	Fault           string // Why it could not be answered.
	Empty           string // What is said where there is nothing.
}

// figure is the panels of one picture for one platform.
type figure struct {
	Title, Command string
	Rows           [][]template.HTML // The panels, a row a picture.
	Key            []key
	Notes          []string
}

// key names a look.
type key struct {
	Swatch template.HTML
	Name   string
}

// topic is a section of figures: which query, and which of its pictures.
type topic struct {
	id, title, lead, query, empty string
	picture                       int // -1: all of them.
}

func topics() []topic {
	return []topic{
		{"torque", "Torque and power by engine speed", "Median over pulls at the wheels; the band is the 95 % interval of the mean. Torque is wheel power referred to engine speed.", "torque/curve", "No pulls with torque.", -1},
		{"drive", "Drive ratio by power", "Net drive pressure over boost, with its thresholds. Where it climbs, each further kPa of boost is paid dearly. The steep part on the left is spool-up.", "drive/by_power", "No pulls with pressure before the turbine.", 0},
		{"boost", "Boost against net drive", "Above the 1:1 line the exhaust pushes back harder than the boost pushes in. Each curve runs with rising power.", "drive/by_power", "No pulls with pressure before the turbine.", 1},
		{"exhaust", "Exhaust and filter by power", "Pressure after the turbine and the part of it that the particulate filter takes.", "backpressure/by_power", "No pulls with exhaust pressure.", -1},
		{"shift", "Shift speed by pedal", "Median engine speed of upshifts, by the gear before.", "shift/by_pedal", "No shifts found.", -1},
		{"lambda", "λ by power", "Air over what the fuel needs. Less is richer.", "air/lambda", "No pulls with λ.", -1},
		{"filter", "Filter resistance by date", "Pressure loss over volume flow: soot and ash apart from power. A fall is a regeneration or a cleaning. It wants the filter's pressure loss and gas temperature and the air flow: vehicles without one of these are left out.", "backpressure/loading", "No filter pressure by date.", -1},
	}
}

// figures makes a topic's section. A query that fails costs this section alone.
func (w *writer) figures(ctx context.Context, t topic) (section, error) {
	s := section{ID: t.id, Title: t.title, Lead: t.lead, Empty: t.empty}
	a, err := w.ask(ctx, t.query)
	if err != nil {
		if ctx.Err() != nil {
			return s, ctx.Err()
		}
		s.Fault = err.Error()
		return s, nil
	}
	if a == nil {
		return s, nil
	}
	for _, part := range a.byPlatform() {
		charts, err := plot.Charts(a.pack, a.columns, part.rows, w.options)
		if err != nil {
			s.Fault = err.Error()
			return s, nil
		}
		if t.picture >= 0 {
			charts = charts[min(t.picture, len(charts)):min(t.picture+1, len(charts))]
		}
		f, err := w.figure(t, part, charts, a)
		if err != nil {
			return s, err
		}
		if len(f.Rows) > 0 {
			s.Figures = append(s.Figures, f)
		}
	}
	s.Figures = together(s.Figures, a.command)
	return s, nil
}

// together puts platforms that have a panel each side by side.
func together(list []figure, command string) []figure {
	alone := func(panels []template.HTML) bool { return len(panels) == 1 }
	for _, f := range list {
		if len(f.Rows) != len(list[0].Rows) || !all(f.Rows, alone) {
			return list
		}
	}
	if len(list) < 2 {
		return list
	}
	one := figure{Command: command, Rows: make([][]template.HTML, len(list[0].Rows))}
	names := map[string]bool{}
	for _, f := range list {
		for i, panels := range f.Rows {
			one.Rows[i] = append(one.Rows[i], panels...)
		}
		one.Notes = append(one.Notes, f.Notes...)
		for _, k := range f.Key {
			names[k.Name] = true
		}
		if len(f.Key) > len(one.Key) {
			one.Key = f.Key
		}
	}
	if len(names) > len(one.Key) {
		one.Key = nil // One look has several names; each curve bears its own.
	}
	return []figure{one}
}

func all(rows [][]template.HTML, holds func([]template.HTML) bool) bool {
	return !slices.ContainsFunc(rows, func(r []template.HTML) bool { return !holds(r) })
}

func (w *writer) figure(t topic, part part, charts []plot.Chart, a *answer) (figure, error) {
	f := figure{Title: part.platform, Command: a.command}
	if part.platform != "" {
		f.Command = with(a.command, "platform", part.platform)
	}
	for n, c := range charts {
		var panels []template.HTML
		for _, p := range c.Panels {
			p.Group = "" // The figure's heading says it.
			id := fmt.Sprintf("%s-%d", t.id, w.next())
			svg, err := p.SVG(c, id)
			if err != nil {
				return f, err
			}
			panels = append(panels, template.HTML(svg)) //nolint:gosec // The plot package escapes every text in it.
		}
		if len(panels) > 0 {
			f.Rows = append(f.Rows, panels)
		}
		if n == 0 {
			for _, k := range c.Key() {
				f.Key = append(f.Key, key{template.HTML(k.Swatch), k.Name}) //nolint:gosec // Drawn by the plot package, without any text.
			}
		}
		if left := c.LeftOut; len(left) > 0 {
			note := fmt.Sprintf("Not drawn for want of room: %s. Add --param vehicle=… or --param calibration=… to see more.", and(left[:min(len(left), 4)])+more(len(left)-4))
			if !slices.Contains(f.Notes, note) {
				f.Notes = append(f.Notes, note)
			}
		}
	}
	return f, nil
}

func more(n int) string {
	if n <= 0 {
		return ""
	}
	return " and " + plural(n, "other", "others")
}

// with adds a parameter to a command line, before the units.
func with(command, name, value string) string {
	param := " --param " + quote(name+"="+value)
	if head, ok := strings.CutSuffix(command, " --units us"); ok {
		return head + param + " --units us"
	}
	return command + param
}

// part is the rows of one platform; without a platform column all rows are of one without a name.
type part struct {
	platform string
	rows     [][]any
}

func (a *answer) byPlatform() []part {
	var parts []part
	for _, r := range a.rows {
		p := r.text("platform")
		i := slices.IndexFunc(parts, func(q part) bool { return q.platform == p })
		if i < 0 {
			i = len(parts)
			parts = append(parts, part{platform: p})
		}
		parts[i].rows = append(parts[i].rows, r.values)
	}
	return parts
}
