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
	var swap []string
	for _, r := range stand.roles() {
		swap = append(swap, strings.ToUpper(r[1]), "var("+r[0]+")")
	}
	return element(id, panelWidth, panelHeight, p.Heading(c), p.Words(c), strings.NewReplacer(swap...).Replace(body)), nil
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
