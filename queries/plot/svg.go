package plot

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// SVG gives a panel as an svg element to stand in a page: its colours are the page's variables that Colours.CSS declares, and
// it has a title and a description. The id must be its own in the page.
func (p Panel) SVG(c Chart, id string) (string, error) {
	canvas := vgsvg.New(panelWidth, panelHeight)
	stand := standIns()
	d := &drawing{chart: c, panel: p, colour: stand, pen: newPen()}
	d.draw(draw.New(canvas))
	body, err := body(canvas)
	if err != nil {
		return "", err
	}
	return element(id, panelWidth, panelHeight, p.Heading(c), p.Words(c), stand.variables(body)), nil
}

// standIns are colours that nothing else has, to be replaced by variables.
func standIns() Colours {
	c := Colours{Ink: "#010101", Quiet: "#010102", Hair: "#010103", Paper: "#010104", Bound: "#010105"}
	for i := range c.Series {
		c.Series[i] = fmt.Sprintf("#0102%02x", i)
	}
	return c
}

var (
	prolog = regexp.MustCompile(`(?s)^.*?<svg[^>]*>`)
	family = regexp.MustCompile(`font-family:[^;"]*`)
)

// body is what a canvas holds, without the element around it.
func body(canvas *vgsvg.Canvas) (string, error) {
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		return "", fmt.Errorf("write picture: %w", err)
	}
	text := prolog.ReplaceAllString(b.String(), "")
	text = strings.TrimSuffix(strings.TrimSpace(text), "</svg>")
	text = strings.ReplaceAll(text, "font-variant:normal;", "")
	text = strings.ReplaceAll(text, "font-style:normal;", "")
	return family.ReplaceAllString(text, "font-family:Arial,Helvetica,'Liberation Sans',sans-serif"), nil
}

// element puts a svg element with its text alternative around a body.
func element(id string, w, h vg.Length, title, words, body string) string {
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" role="img" aria-labelledby="%s-t %s-d"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>%s</svg>`,
		w.Points(), h.Points(), id, id, id, html.EscapeString(title), id, html.EscapeString(words), strings.ReplaceAll(body, "\n", ""))
}

// Look is a look with the name that it stands for.
type Look struct {
	Name   string
	Swatch string // A svg element of a line with its marker, for decoration beside the name.
}

// Key names the looks of a chart, the latest series first; it is empty where panels give one look to several names.
func (c Chart) Key() []Look {
	names := map[int]string{}
	for _, p := range c.Panels {
		for _, s := range p.Series {
			if n, ok := names[s.Style]; ok && n != s.Name {
				return nil
			}
			names[s.Style] = s.Name
		}
	}
	var looks []Look
	for look := range maxSeries {
		if n, ok := names[look]; ok {
			looks = append(looks, Look{n, c.swatch(look)})
		}
	}
	return looks
}

func (c Chart) swatch(look int) string {
	const w, h = vg.Length(34), vg.Length(10)
	canvas := vgsvg.New(w, h)
	d := &drawing{chart: c, colour: standIns()}
	ink := rgb(d.colour.Series[look])
	to := draw.New(canvas)
	if c.kind != "points" {
		to.StrokeLine2(draw.LineStyle{Color: ink, Width: d.width(look), Dashes: dash(look)}, 0, h/2, w, h/2)
	}
	marker(to, look, vg.Point{X: w / 2, Y: h / 2}, ink, rgb(d.colour.Paper))
	inner, err := body(canvas)
	if err != nil {
		return ""
	}
	return fmt.Sprintf(`<svg viewBox="0 0 %g %g" width="%g" height="%g" aria-hidden="true">%s</svg>`, w.Points(), h.Points(), w.Points(), h.Points(), d.colour.variables(strings.ReplaceAll(inner, "\n", "")))
}

// variables puts the page's variables in the place of the colours that stand in for them.
func (c Colours) variables(text string) string {
	var swap []string
	for _, r := range c.roles() {
		swap = append(swap, strings.ToUpper(r[1]), "var("+r[0]+")")
	}
	return strings.NewReplacer(swap...).Replace(text)
}
