package align

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"dynolake/schema"
)

// ErrNoRows is returned by Merge when no recorder has a row that can be placed in time.
var ErrNoRows = errors.New("no row has a time")

// sparse is the share of blank cells above which a channel of a shared table counts as polled on a slower clock of its own.
const sparse = 0.3

// Merged is a run on one clock.
type Merged struct {
	Frame    *schema.Frame
	Unmapped []schema.Unmapped
	Findings []schema.Finding
	T0       float64 // The frame's first row on the first recorder's clock, seconds.
}

type merger struct {
	logs   []schema.Log
	claims []schema.Claim
	places []Placement
	baro   float64
	times  map[[2]int][]float64 // By log and series, shifted.
	out    Merged

	rowTimes map[[2]int][]float64 // The same from the run's first row.
}

// Merge brings all mapped channels of a run onto one clock and converts them to stored units. baroKPa is the run's
// barometric, NaN when not known; it serves gauge channels where no barometric channel was logged. The logs' values are used
// up: what was held is converted in place, what is left over is handed on.
func Merge(logs []schema.Log, claims []schema.Claim, places []Placement, baroKPa float64) (Merged, error) {
	m := merger{logs: logs, claims: claims, places: places, baro: baroKPa, times: map[[2]int][]float64{}, rowTimes: map[[2]int][]float64{}}
	times := timebase(m.clocks(true))
	if len(times) == 0 {
		times = timebase(m.clocks(false))
	}
	if len(times) == 0 {
		return Merged{}, ErrNoRows
	}
	m.out.T0 = times[0]
	rows := make([]float64, len(times))
	for i := range times {
		rows[i] = times[i] - m.out.T0
	}
	m.out.Frame = schema.NewFrame(rows)
	m.columns(times)
	m.leftovers()
	return m.out, nil
}

func (m *merger) holds(c schema.Claim) bool {
	return c.Column != "" && !c.Lost && m.places[c.Log].Placed
}

// clocks lists the clocks of series, shifted: those with a mapped channel, or all placed ones.
func (m *merger) clocks(mapped bool) [][]float64 {
	type key struct{ log, series int }
	wanted := map[key]bool{}
	for _, c := range m.claims {
		if m.holds(c) || (!mapped && m.places[c.Log].Placed) {
			wanted[key{c.Log, c.Series}] = true
		}
	}
	var clocks [][]float64
	for l := range m.logs {
		for s := range m.logs[l].Series {
			if wanted[key{l, s}] {
				clocks = append(clocks, slices.Compact(slices.Clone(m.clock(l, s))))
			}
		}
	}
	return clocks
}

// clock is a series' times on the run's clock, not yet from its first row. The slice is shared: do not change it.
func (m *merger) clock(log, series int) []float64 {
	key := [2]int{log, series}
	if m.times[key] == nil {
		m.times[key] = m.places[log].Times(m.logs[log].Series[series].T)
	}
	return m.times[key]
}

func shifted(t []float64, by float64) []float64 {
	out := make([]float64, len(t))
	for i := range t {
		out[i] = t[i] + by
	}
	return out
}

func (m *merger) columns(times []float64) {
	// Barometric goes first: gauge channels are added to it.
	for _, first := range []bool{true, false} {
		for _, c := range m.claims {
			if m.holds(c) && (c.Column == "baro_kpa") == first {
				m.column(c, times)
			}
		}
	}
}

func (m *merger) column(c schema.Claim, times []float64) {
	col, ok := schema.Lookup(c.Column)
	if !ok {
		return // A user's own column is not of the catalogue; mapping refuses such claims.
	}
	s := m.logs[c.Log].Series[c.Series]
	values := stored(s, c, s.Values[c.Channel]) // In place: nothing reads the logged numbers of a held channel again.
	out := m.onto(times, m.clock(c.Log, c.Series), values, col, s.Channels[c.Channel].Name, m.logs[c.Log].Source)
	if c.AddBaro || c.TakeBaro {
		m.rebase(out, c.TakeBaro)
	}
	m.out.Frame.Set(c.Column, out)
}

// onto places a channel's values on the run's rows: as they are where the clocks agree, else resampled.
func (m *merger) onto(times, t, values []float64, col schema.Column, name, source string) []float64 {
	if !sameClock(times, t) {
		return newTrace(t, values, col.Kind).at(times)
	}
	present := 0
	for _, v := range values {
		if !math.IsNaN(v) {
			present++
		}
	}
	blank := 1 - float64(present)/float64(max(len(t), 1))
	if blank <= sparse || present < 2 || len(t) < burst {
		return values
	}
	tr := newTrace(t, values, col.Kind)
	nan := math.NaN()
	m.out.Findings = append(m.out.Findings, schema.Finding{Source: source, Severity: schema.Note, Code: "sparse_channel", Channel: name,
		Text:  fmt.Sprintf("%.0f %% of its cells are blank: read as polled every %.3g s and carried between its values", 100*blank, tr.period),
		Value: blank, Unit: "1", T0S: nan, T1S: nan})
	return tr.at(times)
}

func sameClock(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// stored puts a channel's values into out in the column's unit, with texts read by the claim's states.
func stored(s schema.Series, c schema.Claim, out []float64) []float64 {
	logged := s.Values[c.Channel]
	scale := c.Scale
	if scale == 0 {
		scale = 1
	}
	for i, v := range logged {
		out[i] = v*scale + c.Offset
	}
	for _, x := range s.Texts {
		if x.Channel != c.Channel {
			continue
		}
		if v, ok := c.States[x.Text]; ok {
			out[x.Row] = v
		}
	}
	return out
}

// rebase turns gauge into absolute or back, row by row.
func (m *merger) rebase(out []float64, take bool) {
	baro := m.out.Frame.Column("baro_kpa")
	for i := range out {
		b := m.baro
		if baro != nil && !math.IsNaN(baro[i]) {
			b = baro[i]
		}
		if take {
			b = -b
		}
		out[i] += b
	}
}
