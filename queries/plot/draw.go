package plot

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Size of a panel. Its texts are of 10 to 12 units, so a panel shown 330 pixels wide or more can be read.
const (
	panelWidth  = vg.Length(360)
	panelHeight = vg.Length(264)
)

// drawing is a panel on its way to a canvas.
type drawing struct {
	chart  Chart
	panel  Panel
	colour Colours
	pen    pen

	x, y   span
	labels []string   // Of the series, shortened.
	off    int        // Values above the panel.
	taken  []vg.Point // Where curves and notes are.
}

// draw draws a panel, all of it within the canvas.
func (d *drawing) draw(c draw.Canvas) {
	d.ranges()
	d.shorten()
	head, quiet := d.pen.style(12, d.colour.Ink, true), d.pen.style(10.5, d.colour.Quiet, false)
	head.YAlign, quiet.YAlign = draw.YTop, draw.YTop
	top := c.Max.Y
	name := fit(head, d.panel.Name, panelWidth-8)
	c.FillText(head, vg.Point{X: c.Min.X + 4, Y: top - 2}, name)
	if room := panelWidth - 20 - head.Width(name); room > 60 && d.panel.Group != "" {
		c.FillText(quiet, vg.Point{X: c.Min.X + 12 + head.Width(name), Y: top - 3}, fit(quiet, d.panel.Group, room))
	}
	axis := d.chart.Y.Label()
	if d.off > 0 {
		axis += "; ▲ goes on above"
	}
	c.FillText(quiet, vg.Point{X: c.Min.X + 4, Y: top - 19}, fit(quiet, axis, panelWidth-8))
	foot := d.pen.style(10.5, d.colour.Quiet, false)
	foot.XAlign, foot.YAlign = draw.XRight, draw.YBottom
	right := d.margin()
	c.FillText(foot, vg.Point{X: c.Max.X - right, Y: c.Min.Y + 2}, d.chart.X.Label())
	d.plot().Draw(draw.Crop(c, 2, -right, 16, -38))
}

// plot sets the axes up; what is drawn in them is the drawing itself.
func (d *drawing) plot() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.TextHandler = d.pen.handler
	tick := d.pen.style(10, d.colour.Quiet, false)
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Padding = 2
		xa, ya := a.Tick.Label.XAlign, a.Tick.Label.YAlign
		a.Tick.Label = tick
		a.Tick.Label.XAlign, a.Tick.Label.YAlign = xa, ya
		a.LineStyle = draw.LineStyle{Color: rgb(d.colour.Quiet), Width: 0.8}
		a.Tick.LineStyle = a.LineStyle
		a.Tick.Length = 4
	}
	p.Y.Width, p.Y.Tick.Width, p.Y.Tick.Length = 0, 0, 0
	p.X.Tick.Marker = fixed(d.chart.X.ticks(d.x))
	p.Y.Tick.Marker = fixed(d.chart.Y.ticks(d.y))
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = d.x.lo, d.x.hi, d.y.lo, d.y.hi
	p.Add(d)
	return p
}

// ranges finds what the axes cover: the data, what lies far above most of it left out, and the marks that lie near it.
func (d *drawing) ranges() {
	d.x, d.y = empty(), empty()
	var ys []float64
	for _, s := range d.panel.Series {
		for i := range s.X {
			d.x.add(s.X[i])
			d.y.add(s.Y[i])
			ys = append(ys, s.Y[i])
			if len(s.Low) > 0 {
				d.y.add(s.Low[i])
				d.y.add(s.High[i])
			}
		}
	}
	if d.chart.equal {
		d.y.add(d.x.lo)
	}
	d.cut(ys)
	bare := d.y
	for _, m := range d.panel.Marks {
		if m.Limit && m.Y < bare.hi+1.5*(bare.hi-bare.lo) && m.Y > bare.lo-1.5*(bare.hi-bare.lo) {
			d.y.add(m.Y)
		}
	}
	if d.y.lo > 0 && d.y.lo < 0.4*d.y.hi && !d.chart.Y.Time {
		d.y.lo = 0
	}
	d.x, d.y = d.x.padded(0.02), d.y.padded(0.06)
}

// cut leaves what lies far above out of the panel, where it is the way into a curve and not where the curve leads.
func (d *drawing) cut(ys []float64) {
	most := tall(ys)
	for _, m := range d.panel.Marks {
		most = math.Max(most, math.Min(m.Y*1.08, d.y.hi))
	}
	off := 0
	for _, s := range d.panel.Series {
		low := 0
		for i, y := range s.Y {
			if y <= s.Y[low] {
				low = i
			}
		}
		for i, y := range s.Y {
			if y > most && i > low {
				return
			}
			if y > most {
				off++
			}
		}
	}
	if off > 0 && d.chart.kind != "points" {
		d.y.hi, d.off = most, off
	}
}

// tall is the height up to which a panel shows values: all of them, unless the highest tenth stands far above the rest.
func tall(ys []float64) float64 {
	sorted := sortedCopy(ys)
	n := len(sorted)
	if n < 30 {
		return math.Inf(1)
	}
	low, high := sorted[n/20], sorted[n-1-n/10]
	if bound := high + 0.8*(high-low); sorted[n-1] > bound {
		return bound
	}
	return math.Inf(1)
}

// padded widens a span by a share of its width; a single value gets room around it.
func (s span) padded(share float64) span {
	w := s.hi - s.lo
	if !(w > 0) {
		w = math.Max(math.Abs(s.lo), 1)
		share = 0.5
	}
	lo := s.lo - share*w
	if s.lo == 0 {
		lo = 0
	}
	return span{lo, s.hi + share*w}
}

// Plot draws the grid, the marks, the bands, the series and their labels.
func (d *drawing) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	at := func(px, py float64) vg.Point { return vg.Point{X: x(px), Y: y(py)} }
	for _, t := range p.Y.Tick.Marker.Ticks(d.y.lo, d.y.hi) {
		c.StrokeLine2(draw.LineStyle{Color: rgb(d.colour.Hair), Width: 0.7}, c.Min.X, y(t.Value), c.Max.X, y(t.Value))
	}
	for _, s := range d.panel.Series {
		d.band(c, s, at)
	}
	if d.chart.equal {
		lo, hi := math.Max(d.x.lo, d.y.lo), math.Min(d.x.hi, d.y.hi)
		if lo < hi {
			c.StrokeLines(draw.LineStyle{Color: rgb(d.colour.Ink), Width: 0.9, Dashes: []vg.Length{2, 2}}, []vg.Point{at(lo, lo), at(hi, hi)})
			note := d.pen.style(10, d.colour.Quiet, false)
			note.YAlign = draw.YTop
			c.FillText(note, at(lo+0.04*(hi-lo), lo+0.02*(hi-lo)), "  1:1")
		}
	}
	d.take(at)
	d.marks(c, y)
	for i := range d.panel.Series {
		d.series(c, d.panel.Series[i], at)
	}
	d.names(c, at)
}

func (d *drawing) band(c draw.Canvas, s Series, at func(x, y float64) vg.Point) {
	var up, down []vg.Point
	flush := func() {
		if len(up) > 1 {
			for i := len(down) - 1; i >= 0; i-- {
				up = append(up, down[i])
			}
			c.FillPolygon(glaze{rgb(d.colour.Series[s.Style]), 12000}, c.ClipPolygonY(up))
		}
		up, down = nil, nil
	}
	for i := range s.Low {
		if math.IsNaN(s.Low[i]) || math.IsNaN(s.High[i]) {
			flush()
			continue
		}
		up, down = append(up, at(s.X[i], s.High[i])), append(down, at(s.X[i], s.Low[i]))
	}
	flush()
}

// marks draws limits, with teeth on the side that must not be entered, and lines of reference.
func (d *drawing) marks(c draw.Canvas, y func(float64) vg.Length) {
	for _, m := range d.panel.Marks {
		at := y(m.Y)
		if at < c.Min.Y || at > c.Max.Y {
			continue
		}
		hex, style := d.colour.Quiet, draw.LineStyle{Color: rgb(d.colour.Quiet), Width: 0.9, Dashes: []vg.Length{1, 3}}
		if m.Limit {
			hex, style = d.colour.Bound, draw.LineStyle{Color: rgb(d.colour.Bound), Width: 1.3}
			up := vg.Length(4)
			if !m.Upper {
				up = -4
			}
			for x := c.Min.X; x <= c.Max.X-4; x += 9 {
				c.StrokeLine2(draw.LineStyle{Color: rgb(hex), Width: 0.9}, x, at, x+4, at+up)
			}
		}
		c.StrokeLine2(style, c.Min.X, at, c.Max.X, at)
		d.note(c, m, at, d.pen.style(10, hex, m.Limit))
	}
}

// note writes a mark's text where the fewest curves run, on a patch of paper.
func (d *drawing) note(c draw.Canvas, m Mark, y vg.Length, style draw.TextStyle) {
	style.YAlign = draw.YBottom
	lo := y + 1
	if m.Limit && m.Upper {
		lo = y - 13
	}
	w := style.Width(m.Text)
	best, least := c.Min.X+3, math.MaxInt
	for k := range 24 {
		x := c.Min.X + 3 + (c.Max.X-c.Min.X-w-6)*vg.Length(k)/23
		hits := 0
		for _, p := range d.taken {
			if p.X > x-3 && p.X < x+w+3 && p.Y > lo-1 && p.Y < lo+12 {
				hits++
			}
		}
		if hits < least {
			best, least = x, hits
		}
	}
	c.SetColor(rgb(d.colour.Paper))
	c.Fill(vg.Rectangle{Min: vg.Point{X: best - 1, Y: lo}, Max: vg.Point{X: best + w + 1, Y: lo + 11}}.Path())
	c.FillText(style, vg.Point{X: best, Y: lo}, m.Text)
	for i := range 12 {
		d.taken = append(d.taken, vg.Point{X: best + w*vg.Length(i)/11, Y: lo + 6})
	}
}

// take notes where curves run: every few units along them.
func (d *drawing) take(at func(x, y float64) vg.Point) {
	d.taken = nil
	for _, s := range d.panel.Series {
		for i := 1; i < len(s.X); i++ {
			a, b := at(s.X[i-1], s.Y[i-1]), at(s.X[i], s.Y[i])
			n := 1 + int(math.Min(200, math.Hypot(float64(b.X-a.X), float64(b.Y-a.Y))/4))
			for k := range n {
				f := vg.Length(k) / vg.Length(n)
				d.taken = append(d.taken, vg.Point{X: a.X + f*(b.X-a.X), Y: a.Y + f*(b.Y-a.Y)})
			}
		}
	}
}
