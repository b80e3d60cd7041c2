package plot

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// ErrEnding is returned for a file whose ending names no form of picture.
var ErrEnding = errors.New("unknown form of picture")

// Check tells whether a file's ending is one that Save knows.
func Check(path string) error {
	if ending := strings.ToLower(filepath.Ext(path)); !slices.Contains([]string{".svg", ".png"}, ending) {
		return fmt.Errorf("draw %q: %w %q, want .svg or .png", path, ErrEnding, ending)
	}
	return nil
}

// Save draws charts to a file, SVG or PNG by its ending, on white. put has the file written and puts it in its place.
func Save(path string, charts []Chart, put func(path string, write func(io.Writer) error) error) error {
	if err := Check(path); err != nil {
		return err
	}
	err := put(path, func(w io.Writer) error { return Write(w, strings.ToLower(filepath.Ext(path)), charts) })
	if err != nil {
		return fmt.Errorf("write picture: %w", err)
	}
	return nil
}

// Write draws charts as one picture, one below the other, in the form that the ending .svg or .png names.
func Write(w io.Writer, ending string, charts []Chart) error {
	s := newSheet(charts)
	if ending == ".png" {
		canvas := vgimg.NewWith(vgimg.UseWH(s.width, s.height), vgimg.UseDPI(144))
		s.draw(draw.New(canvas))
		_, err := vgimg.PngCanvas{Canvas: canvas}.WriteTo(w)
		return err
	}
	canvas := vgsvg.New(s.width, s.height)
	s.draw(draw.New(canvas))
	inner, err := body(canvas)
	if err != nil {
		return err
	}
	name, words := "Picture", ""
	for _, c := range charts {
		name = c.Title
		for _, p := range c.Panels {
			words += p.Heading(c) + ". " + p.Words(c)
		}
	}
	_, err = io.WriteString(w, `<?xml version="1.0" encoding="UTF-8"?>`+"\n"+element("p", s.width, s.height, name, words, inner)+"\n")
	return err
}

// sheet lays panels out on one page.
type sheet struct {
	charts        []Chart
	colour        Colours
	pen           pen
	across        int
	width, height vg.Length
}

// Measures of a sheet.
const (
	edge      = vg.Length(14)
	gutter    = vg.Length(16)
	titleRoom = vg.Length(26)
	noteRoom  = vg.Length(15)
	noteSize  = vg.Length(10)
)

func newSheet(charts []Chart) *sheet {
	s := &sheet{charts: charts, colour: Light(), pen: newPen(), across: 1}
	for _, c := range charts {
		s.across = max(s.across, min(3, len(c.Panels)))
		if len(c.Panels) == 4 {
			s.across = max(s.across, 2)
		}
	}
	s.width = 2*edge + vg.Length(s.across)*panelWidth + vg.Length(s.across-1)*gutter
	s.height = 2*edge + titleRoom
	for _, c := range charts {
		s.height += vg.Length(max(s.lines(c), 1))*(panelHeight+gutter) + vg.Length(len(s.notes(c)))*noteRoom
	}
	return s
}

func (s *sheet) lines(c Chart) int { return (len(c.Panels) + s.across - 1) / s.across }

// notes are the lines under a chart: complete names of what a label shortens, and what is left out.
func (s *sheet) notes(c Chart) []string {
	var notes []string
	if len(c.Panels) == 0 {
		return []string{"Nothing to draw: the answer has no rows."}
	}
	style := s.pen.style(labelSize, s.colour.Ink, true)
	for _, p := range c.Panels {
		names := p.names()
		for i, short := range fitApart(style, names) {
			if note := short + ": " + names[i]; short != names[i] && !slices.Contains(notes, note) {
				notes = append(notes, note)
			}
		}
	}
	if n := len(c.LeftOut); n > 0 {
		notes = append(notes, fmt.Sprintf("Not drawn for want of room: %s. Narrow the answer with --param to see it.", strings.Join(c.LeftOut[:min(n, 3)], "; ")+more(n-3)))
	}
	return notes
}

func more(n int) string {
	if n <= 0 {
		return ""
	}
	return " and " + plural(n, "other", "others")
}

func (s *sheet) draw(c draw.Canvas) {
	c.SetColor(rgb(s.colour.Paper))
	c.Fill(c.Path())
	head := s.pen.style(15, s.colour.Ink, true)
	head.YAlign = draw.YTop
	y := c.Max.Y - edge
	if len(s.charts) > 0 {
		c.FillText(head, vg.Point{X: edge + 4, Y: y}, fit(head, s.charts[0].Title, s.width-2*edge))
	}
	y -= titleRoom
	for _, chart := range s.charts {
		for i, p := range chart.Panels {
			x := edge + vg.Length(i%s.across)*(panelWidth+gutter)
			top := y - vg.Length(i/s.across)*(panelHeight+gutter)
			d := &drawing{chart: chart, panel: p, colour: s.colour, pen: s.pen}
			d.draw(draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{Min: vg.Point{X: x, Y: top - panelHeight}, Max: vg.Point{X: x + panelWidth, Y: top}}})
		}
		y -= vg.Length(max(s.lines(chart), 1)) * (panelHeight + gutter)
		note := s.pen.style(noteSize, s.colour.Quiet, false)
		note.YAlign = draw.YTop
		for _, n := range s.notes(chart) {
			c.FillText(note, vg.Point{X: edge + 4, Y: y + gutter/2}, fit(note, n, s.width-2*edge-8))
			y -= noteRoom
		}
	}
}
