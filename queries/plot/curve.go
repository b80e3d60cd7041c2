package plot

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// series draws a curve with its markers, or points alone.
func (d *drawing) series(c draw.Canvas, s Series, at func(x, y float64) vg.Point) {
	ink, paper := rgb(d.colour.Series[s.Style]), rgb(d.colour.Paper)
	points := make([]vg.Point, len(s.X))
	for i := range s.X {
		points[i] = at(s.X[i], s.Y[i])
	}
	if d.chart.kind == "points" {
		for _, p := range points {
			if c.Contains(p) {
				marker(c, s.Style, p, ink, paper)
			}
		}
		return
	}
	line := draw.LineStyle{Color: ink, Width: d.width(s.Style), Dashes: dash(s.Style)}
	for _, part := range whole(s, points) {
		c.StrokeLines(line, c.ClipLinesXY(part)...)
	}
	d.beads(c, s, points)
}

// whole cuts a curve where its next value is more than four usual steps away.
func whole(s Series, points []vg.Point) [][]vg.Point {
	var steps []float64
	rising := true
	for i := 1; i < len(s.X); i++ {
		steps = append(steps, math.Abs(s.X[i]-s.X[i-1]))
		rising = rising && s.X[i] > s.X[i-1]
	}
	if !rising || len(steps) < 4 {
		return [][]vg.Point{points}
	}
	usual, even := sortedCopy(steps)[len(steps)/2], 0
	for _, w := range steps {
		if math.Abs(w-usual) < 0.01*usual {
			even++
		}
	}
	if even*2 < len(steps) {
		return [][]vg.Point{points} // Days and the like have no usual step.
	}
	var parts [][]vg.Point
	start := 0
	for i, w := range steps {
		if w > 4.5*usual {
			parts = append(parts, points[start:i+1])
			start = i + 1
		}
	}
	return append(parts, points[start:])
}

// beads sets markers along a curve at about even distances, each look at other places, and a sign where the curve leaves the panel.
func (d *drawing) beads(c draw.Canvas, s Series, points []vg.Point) {
	const apart, fewPoints = vg.Length(46), 16 // So few get a marker each.
	ink, paper := rgb(d.colour.Series[s.Style]), rgb(d.colour.Paper)
	next := apart * vg.Length(1+s.Style%3) / 3
	if len(points) <= fewPoints {
		next = 0
	}
	var gone vg.Length
	for i, p := range points {
		if i > 0 {
			gone += vg.Length(math.Hypot(float64(p.X-points[i-1].X), float64(p.Y-points[i-1].Y)))
		}
		if !c.Contains(p) {
			continue
		}
		if gone >= next || i == len(points)-1 || len(points) <= fewPoints {
			marker(c, s.Style, p, ink, paper)
			next = gone + apart
		}
		if before := i > 0 && points[i-1].Y > c.Max.Y; before || i+1 < len(points) && points[i+1].Y > c.Max.Y {
			tip := vg.Point{X: p.X, Y: c.Max.Y}
			c.FillPolygon(ink, []vg.Point{{X: tip.X - 3, Y: tip.Y - 4}, {X: tip.X + 3, Y: tip.Y - 4}, {X: tip.X, Y: tip.Y + 2}})
		}
	}
}

const (
	labelSize  = 10.5
	labelWidth = 92
)

// shorten makes labels that fit in the margin.
func (d *drawing) shorten() {
	style := d.pen.style(labelSize, d.colour.Ink, true)
	d.labels = fitApart(style, d.panel.names())
}

// margin is the room that the labels need.
func (d *drawing) margin() vg.Length {
	w := vg.Length(0)
	for _, l := range d.labels {
		w = max(w, d.pen.style(labelSize, d.colour.Ink, true).Width(l))
	}
	return w + 22
}

// names writes each series' name beside its end, apart from each other, with a hair line to where the curve ends.
func (d *drawing) names(c draw.Canvas, at func(x, y float64) vg.Point) {
	const height = vg.Length(13)
	type label struct {
		i     int
		end   vg.Point
		y     vg.Length
		style int
	}
	labels := make([]label, 0, len(d.panel.Series))
	for i, s := range d.panel.Series {
		end := at(s.X[len(s.X)-1], s.Y[len(s.X)-1])
		end.Y = max(c.Min.Y, min(c.Max.Y, end.Y))
		labels = append(labels, label{i, end, end.Y, s.Style})
	}
	slices.SortStableFunc(labels, func(a, b label) int { return int(math.Copysign(1, float64(a.y-b.y))) })
	for i := 1; i < len(labels); i++ {
		labels[i].y = max(labels[i].y, labels[i-1].y+height)
	}
	if n := len(labels); n > 0 {
		if over := labels[n-1].y - (c.Max.Y + 4); over > 0 {
			labels[n-1].y -= over
			for i := n - 2; i >= 0; i-- {
				labels[i].y = min(labels[i].y, labels[i+1].y-height)
			}
		}
	}
	for _, l := range labels {
		hex := d.colour.Series[l.style]
		style := d.pen.style(labelSize, hex, l.style == 0 && d.chart.latest)
		style.YAlign = draw.YCenter
		if d.chart.kind != "points" {
			c.StrokeLines(draw.LineStyle{Color: rgb(hex), Width: 0.6}, []vg.Point{l.end, {X: c.Max.X + 4, Y: l.y}})
		}
		marker(c, l.style, vg.Point{X: c.Max.X + 8, Y: l.y}, rgb(hex), rgb(d.colour.Paper))
		c.FillText(style, vg.Point{X: c.Max.X + 15, Y: l.y}, d.labels[l.i])
	}
}

func sortedCopy(list []float64) []float64 {
	list = slices.Clone(list)
	slices.Sort(list)
	return list
}
