package packs

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"dynolake/schema"
)

// Kinds of pictures.
const (
	Line   = "line"   // A curve a series, in the order of x.
	Points = "points" // A mark a row.
)

// Picture is one picture of a query's answer, as its header declares it.
type Picture struct {
	Kind      string    // Line or Points.
	X, Y      string    // Columns of the answer.
	By        []string  // Columns whose values tell the series apart, from coarse to fine.
	Low, High string    // Columns of a band around Y; empty for none.
	Limit     string    // A column of the answer that holds a bound of Y, or a column of the catalogue whose bounds in limits.yaml are drawn.
	Levels    []float64 // Values of Y to draw a line of reference at, in the stored unit.
	Equal     bool      // Draw the line on which X and Y are equal.
}

func pictureKeys() []string { return []string{"x", "y", "by", "band", "limit", "reference"} }

// parsePictures reads what a header's plot declares: pictures with ";" between them, each
//
//	KIND x=COLUMN y=COLUMN [by=COLUMN,…] [band=LOW:HIGH] [limit=COLUMN] [reference=NUMBER,…|1:1]
func parsePictures(text string, columns []Column) ([]Picture, error) {
	var pictures []Picture
	for part := range strings.SplitSeq(text, ";") {
		p, err := parsePicture(strings.Fields(part))
		if err == nil {
			err = p.check(columns)
		}
		if err != nil {
			return nil, err
		}
		pictures = append(pictures, p)
	}
	return pictures, nil
}

func parsePicture(words []string) (Picture, error) {
	kinds := []string{Line, Points}
	if len(words) == 0 || !slices.Contains(kinds, words[0]) {
		found := strings.Join(words[:min(len(words), 1)], "")
		return Picture{}, fmt.Errorf("unknown kind of picture %q%s, want `plot: line x=COLUMN y=COLUMN …` or `plot: points …`", found, suggest(found, kinds))
	}
	p := Picture{Kind: words[0]}
	seen := map[string]bool{}
	for _, w := range words[1:] {
		key, value, ok := strings.Cut(w, "=")
		switch {
		case !ok || value == "":
			return p, fmt.Errorf("found %q in plot, want key=value", w)
		case !slices.Contains(pictureKeys(), key):
			return p, fmt.Errorf("unknown key %q in plot%s, want %s", key, suggest(key, pictureKeys()), strings.Join(pictureKeys(), ", "))
		case seen[key]:
			return p, fmt.Errorf("plot has %q twice", key)
		}
		seen[key] = true
		if err := p.take(key, value); err != nil {
			return p, err
		}
	}
	if p.X == "" || p.Y == "" {
		return p, errors.New("plot lacks x=COLUMN or y=COLUMN")
	}
	return p, nil
}

func (p *Picture) take(key, value string) error {
	switch key {
	case "x":
		p.X = value
	case "y":
		p.Y = value
	case "by":
		p.By = strings.Split(value, ",")
	case "limit":
		p.Limit = value
	case "band":
		var ok bool
		if p.Low, p.High, ok = strings.Cut(value, ":"); !ok || p.Low == "" || p.High == "" {
			return fmt.Errorf("found band=%s in plot, want band=LOW:HIGH", value)
		}
	case "reference":
		if value == "1:1" {
			p.Equal = true
			return nil
		}
		for s := range strings.SplitSeq(value, ",") {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("found reference=%s in plot, want numbers with commas between them, or 1:1", value)
			}
			p.Levels = append(p.Levels, x)
		}
	}
	return nil
}

// Columns are the columns of the answer that the picture needs.
func (p Picture) Columns() []string {
	names := append([]string{p.X, p.Y}, p.By...)
	if p.Low != "" {
		names = append(names, p.Low, p.High)
	}
	return names
}

// check holds the columns named against the declared ones, where there are any.
func (p Picture) check(columns []Column) error {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	for _, n := range p.Columns() {
		if len(names) > 0 && !slices.Contains(names, n) {
			return fmt.Errorf("plot names %q, which is no declared column%s", n, suggest(n, names))
		}
	}
	if _, known := schema.Lookup(p.Limit); p.Limit != "" && !known && len(names) > 0 && !slices.Contains(names, p.Limit) {
		return fmt.Errorf("plot names the limit %q, which is neither a declared column nor one of `dynolake channels`%s", p.Limit, suggest(p.Limit, names))
	}
	return nil
}
