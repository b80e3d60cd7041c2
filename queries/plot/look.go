package plot

import (
	"image/color"

	weight "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Colours of a page, by the part that they play. Every text colour and every series has a contrast of at least 4.5:1 against
// the paper, so that it may be written in.
type Colours struct {
	Ink, Quiet, Hair, Paper, Bound string
	Series                         [maxSeries]string
}

// Light is for white paper.
func Light() Colours {
	return Colours{Ink: "#1a2230", Quiet: "#545c6a", Hair: "#d3d8df", Paper: "#ffffff", Bound: "#a3121f",
		Series: [maxSeries]string{"#000839", "#af6100", "#2c806b", "#8a5bba", "#662607", "#6345d6"}}
}

// Dark is for a dark page.
func Dark() Colours {
	return Colours{Ink: "#e8ebf0", Quiet: "#a3adbb", Hair: "#353d4a", Paper: "#12161d", Bound: "#ff8a80",
		Series: [maxSeries]string{"#6887f0", "#ffa331", "#6affba", "#d5d1ff", "#eee17a", "#b88bb8"}}
}

// roles gives each part's CSS variable and colour, in a fixed order.
func (c Colours) roles() [][2]string {
	list := [][2]string{{"--ink", c.Ink}, {"--quiet", c.Quiet}, {"--hair", c.Hair}, {"--paper", c.Paper}, {"--bound", c.Bound}}
	for i, s := range c.Series {
		list = append(list, [2]string{"--s" + string(rune('0'+i)), s})
	}
	return list
}

// CSS declares the colours as variables.
func (c Colours) CSS() string {
	css := ""
	for _, r := range c.roles() {
		css += r[0] + ":" + r[1] + ";"
	}
	return css
}

// rgb reads #rrggbb.
func rgb(hex string) color.RGBA {
	digit := func(i int) uint8 {
		c := hex[i]
		if c >= 'a' {
			return c - 'a' + 10
		}
		return c - '0'
	}
	return color.RGBA{digit(1)<<4 | digit(2), digit(3)<<4 | digit(4), digit(5)<<4 | digit(6), 255}
}

// glaze is a colour that lets what is under it through.
type glaze struct {
	over  color.RGBA
	alpha uint32 // Of 65535.
}

// RGBA gives the colour times its alpha, rounded up, so that whoever divides by alpha and rounds down finds the colour again.
func (g glaze) RGBA() (r, gr, b, a uint32) {
	times := func(c uint8) uint32 { return (uint32(c)*g.alpha + 254) / 255 }
	return times(g.over.R), times(g.over.G), times(g.over.B), g.alpha
}

// dash is the pattern of a look's line.
func dash(look int) []vg.Length {
	return [maxSeries][]vg.Length{nil, {7, 3}, {1.6, 2.6}, {9, 2.6, 1.6, 2.6}, {14, 4}, {4, 2, 4, 6}}[look]
}

// width is the width of a look's line.
func (d *drawing) width(look int) vg.Length {
	if look == 0 && d.chart.latest {
		return 2.4
	}
	return 1.5
}

// marker draws a look's marker; the open ones are filled with the paper's colour.
func marker(c draw.Canvas, look int, at vg.Point, ink, paper color.Color) {
	const r = vg.Length(3)
	poly := func(points ...vg.Point) vg.Path {
		var p vg.Path
		for i, q := range points {
			q = vg.Point{X: at.X + q.X*r, Y: at.Y + q.Y*r}
			if i == 0 {
				p.Move(q)
			} else {
				p.Line(q)
			}
		}
		p.Close()
		return p
	}
	round := func() vg.Path {
		var p vg.Path
		p.Move(vg.Point{X: at.X + r, Y: at.Y})
		p.Arc(at, r, 0, 6.2832)
		p.Close()
		return p
	}
	square := []vg.Point{{X: -.9, Y: -.9}, {X: .9, Y: -.9}, {X: .9, Y: .9}, {X: -.9, Y: .9}}
	rhomb := []vg.Point{{X: 0, Y: -1.3}, {X: 1.3, Y: 0}, {X: 0, Y: 1.3}, {X: -1.3, Y: 0}}
	switch look {
	case 0:
		shape(c, round(), ink, ink)
	case 1:
		shape(c, poly(square...), ink, paper)
	case 2:
		shape(c, poly([]vg.Point{{X: -1.1, Y: -.9}, {X: 1.1, Y: -.9}, {X: 0, Y: 1.2}}...), ink, ink)
	case 3:
		shape(c, poly(rhomb...), ink, paper)
	case 4:
		shape(c, round(), ink, paper)
	case 5:
		shape(c, poly(square...), ink, ink)
	}
}

func shape(c draw.Canvas, p vg.Path, edge, fill color.Color) {
	c.SetColor(fill)
	c.Fill(p)
	c.SetLineStyle(draw.LineStyle{Color: edge, Width: 1.2})
	c.Stroke(p)
}

// pen writes texts of one face.
type pen struct{ handler text.Handler }

func newPen() pen {
	return pen{text.Plain{Fonts: font.NewCache(liberation.Collection())}}
}

func (p pen) style(size font.Length, hex string, bold bool) draw.TextStyle {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	if bold {
		f.Weight = weight.WeightBold
	}
	return draw.TextStyle{Color: rgb(hex), Font: f, Handler: p.handler}
}
