package mdf4

import (
	"fmt"
	"math"
	"time"

	"dynolake/schema"
)

// File is what is written.
type File struct {
	Start      time.Time // The instant of t = 0; zero when it is not known.
	Local      bool      // Start is wall-clock time of an unknown zone, written as if UTC.
	Written    time.Time // For the file history; zero leaves it at 1970.
	Program    string    // For the file history.
	Version    string
	Comment    string
	Properties [][2]string
	Groups     []Group
	Plain      bool // Data is not packed.
}

// Group is channels that share one clock.
type Group struct {
	Name    string
	Comment string
	Clock   schema.Channel // Its values are T; its unit is s whatever Unit says.
	T       []float64      // Seconds from Start.

	Channels []Channel
}

// Channel is one channel of a group, a value a row.
type Channel struct {
	schema.Channel
	Values []float64      // NaN where nothing or a text stands; nil when there are only texts.
	Texts  map[int]string // By row.
}

// check refuses what cannot be written.
func (f *File) check() error {
	for i, g := range f.Groups {
		for row, t := range g.T {
			if math.IsNaN(t) || math.IsInf(t, 0) {
				return fmt.Errorf("write MDF group %d %q: the time of row %d is %v", i, g.Name, row, t)
			}
		}
		for _, c := range g.Channels {
			if c.Values != nil && len(c.Values) != len(g.T) {
				return fmt.Errorf("write MDF group %d %q: channel %q has %d values for %d times", i, g.Name, c.Name, len(c.Values), len(g.T))
			}
			for row := range c.Texts {
				if row < 0 || row >= len(g.T) {
					return fmt.Errorf("write MDF group %d %q: channel %q has a text at row %d of %d", i, g.Name, c.Name, row, len(g.T))
				}
			}
		}
	}
	return nil
}
