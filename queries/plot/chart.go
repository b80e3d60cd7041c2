package plot

import (
	"dynolake/queries/packs"
	"dynolake/queries/result"
	"dynolake/schema"
)

// Options say how answers are drawn.
type Options struct {
	Units  result.Units
	Limits []schema.Limit    // Bounds of columns, for pictures that name one.
	Order  map[Tested]int    // When each was first run, as a rank; the later ones come last and are drawn heaviest.
	Duty   map[string]string // Duty of each platform, to choose limits by.
}

// Tested is a calibration on a vehicle.
type Tested struct{ Vehicle, Calibration string }

// Chart is one picture of an answer, in the units shown.
type Chart struct {
	Title   string // The query's.
	X, Y    Axis
	Panels  []Panel
	LeftOut []string // What is not drawn, and how to see it.

	kind   string
	equal  bool
	latest bool // The series are calibrations, of which the latest is drawn heaviest.
}

// Axis is what one direction shows.
type Axis struct {
	Column   string
	Title    string // The quantity in words.
	Unit     string // Empty where it has none.
	Time     bool   // Values are days since 1970-01-01.
	Decimals int
}

// Panel is one of the small multiples.
type Panel struct {
	Name   string            // What it is of: the finest of its keys.
	Group  string            // The coarser ones.
	Keys   map[string]string // What is the same for all of its series, by column.
	Series []Series
	Marks  []Mark
}

// Series is one curve or set of points. Low and High are empty without a band.
type Series struct {
	Name             string // Complete; labels shorten it.
	Style            int    // Of the six looks; 0 is the heaviest.
	X, Y             []float64
	Low, High        []float64
	vehicle, version string
}

// Mark is a line across the panel at a value of y.
type Mark struct {
	Y     float64
	Text  string
	Limit bool // A bound: with teeth on the side that must not be entered.
	Upper bool // The bound is an upper one.
}

// maxSeries is how many series a panel holds, and how many looks there are; maxPanels how many panels a chart holds.
const (
	maxSeries = 6
	maxPanels = 12
)

// Charts makes the pictures that a pack declares of the rows of its answer. An answer without rows gives charts without
// panels. The error is for a picture whose columns are not in the answer or are no numbers.
func Charts(pack *packs.Pack, columns []result.Column, rows [][]any, o Options) ([]Chart, error) {
	charts := make([]Chart, 0, len(pack.Pictures))
	for _, p := range pack.Pictures {
		c, err := chart(pack, p, columns, rows, o)
		if err != nil {
			return nil, err
		}
		charts = append(charts, c)
	}
	return charts, nil
}
