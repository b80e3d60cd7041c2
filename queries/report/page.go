package report

import (
	"embed"
	"html/template"
	"io"

	"dynolake/queries/plot"
)

//go:embed page.html page.css
var files embed.FS

// page is what the template shows.
type page struct {
	US          bool
	Light, Dark plot.Colours
	Runs        string // How much the lake holds; empty for an empty lake.
	News        *newsList
	Side        *table // The platforms side by side.
	Cards       []card
	Sections    []section
	Faults      []string
}

// newsList is the news in words.
type newsList struct {
	Since, First                  string
	None                          bool
	Runs, Verdicts, Passed, Aside []string
}

func (p *page) render(out io.Writer) error {
	css, err := files.ReadFile("page.css")
	if err != nil {
		return err
	}
	t, err := template.New("page.html").Funcs(template.FuncMap{
		"css":     func() template.CSS { return template.CSS(css) },                   //nolint:gosec // Our own file.
		"colours": func(c plot.Colours) template.CSS { return template.CSS(c.CSS()) }, //nolint:gosec // Constants of the plot package.
	}).ParseFS(files, "page.html")
	if err != nil {
		return err
	}
	return t.Execute(out, p)
}
