package demo

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

// recorder is one logger of one run.
type recorder struct {
	dialect
	form     string // wide, long or paired, which are delimited text; workbook, mdf4, obd, j1939, parquet or arrow.
	suffix   string // Of the file's name.
	ending   string
	rate     float64 // Hz.
	begin    float64 // When in the run it begins to write, s.
	base     float64 // What its clock reads at that moment, s.
	channels []channel
}

// offset is what the recorder's clock reads at the run's beginning.
func (r recorder) offset() float64 { return r.base - r.begin }

// delimited reports whether the log is text in the recorder's dialect.
func (r recorder) delimited() bool { return r.form == "wide" || r.form == "long" || r.form == "paired" }

// write renders what the recorder kept of the traces; start is when its clock read zero. After the first trace, its clock began anew.
func (r recorder) write(m Model, name string, traces []*trace, start time.Time) ([]byte, error) {
	var sensors []*sensor
	for _, c := range r.channels {
		sensors = append(sensors, m.sensor(c, name+r.suffix))
	}
	switch r.form {
	case "workbook":
		return r.workbook(name, sensors, traces[0])
	case "mdf4":
		return r.measurement(name, sensors, traces[0], start)
	case "parquet", "arrow":
		return r.columns(sensors, traces[0], start)
	case "obd":
		return r.carBus(sensors, traces[0], start), nil
	case "j1939":
		return r.truckBus(sensors, traces[0], start), nil
	}
	return r.text(sensors, traces, start)
}

// text renders the log in the recorder's dialect.
func (r recorder) text(sensors []*sensor, traces []*trace, start time.Time) ([]byte, error) {
	var b strings.Builder
	for _, line := range r.preamble {
		b.WriteString(line)
		r.line(&b, nil)
	}
	switch r.form {
	case "long":
		r.long(&b, sensors, traces[0], start)
	case "paired":
		r.paired(&b, sensors, traces[0])
	default:
		r.wide(&b, sensors, traces, start)
	}
	return r.encode(b.String())
}

// header writes the names and, where the dialect has one, the row of units.
func (r recorder) header(b *strings.Builder, sensors []*sensor) {
	names, units := []string{r.title(r.timeName, r.timeUnit())}, []string{r.timeUnit()}
	for _, s := range sensors {
		names, units = append(names, r.title(s.name, s.unit)), append(units, s.unit)
	}
	r.line(b, names)
	if r.units == "row" {
		r.line(b, units)
	}
}

func (r recorder) wide(b *strings.Builder, sensors []*sensor, traces []*trace, start time.Time) {
	r.header(b, sensors)
	gaps := sensors[0].rng
	cells := make([]string, 1+len(sensors))
	for _, t := range traces {
		n := int((t.duration() - r.begin) * r.rate)
		for i := range n {
			if r.repeated && i == n/2 {
				r.header(b, sensors)
			}
			at := float64(i) / r.rate
			cells[0] = r.stamp(r.base+at, start)
			for k, s := range sensors {
				cells[k+1] = r.cell(s, s.read(t, r.begin+at))
				if r.blanks > 0 && k > 0 && gaps.Float64() < r.blanks {
					cells[k+1] = r.missing
				}
			}
			r.line(b, cells)
		}
	}
}

// long writes a row a value, each channel polled in its own time, unevenly.
func (r recorder) long(b *strings.Builder, sensors []*sensor, t *trace, start time.Time) {
	type event struct {
		at float64
		s  *sensor
	}
	var events []event
	for i, s := range sensors {
		rate := cmp.Or(s.rate, r.rate)
		for at := r.begin + float64(i)*0.013; at < t.duration(); at += (0.85 + 0.3*s.rng.Float64()) / rate {
			events = append(events, event{math.Round(at*1e4) / 1e4, s})
		}
	}
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Compare(a.at, b.at) })
	r.line(b, []string{r.timeName, "channel", "value", "unit"})
	for _, e := range events {
		r.line(b, []string{r.stamp(r.base+e.at-r.begin, start), e.s.name, r.cell(e.s, e.s.read(t, e.at)), e.s.unit})
	}
}

// paired writes each channel beside a clock of its own; short ones end in blanks.
func (r recorder) paired(b *strings.Builder, sensors []*sensor, t *trace) {
	var names []string
	rows := 0
	for _, s := range sensors {
		names = append(names, r.title(r.timeName, r.timeUnit()), r.title(s.name, s.unit))
		rows = max(rows, int((t.duration()-r.begin)*cmp.Or(s.rate, r.rate)))
	}
	r.line(b, names)
	cells := make([]string, len(names))
	for i := range rows {
		for k, s := range sensors {
			rate := cmp.Or(s.rate, r.rate)
			at := r.begin + (float64(i)+0.07*float64(k))/rate
			cells[2*k], cells[2*k+1] = "", ""
			if i < int((t.duration()-r.begin)*rate) && at < t.duration() {
				cells[2*k], cells[2*k+1] = r.stamp(r.base+at-r.begin, time.Time{}), r.cell(s, s.read(t, at))
			}
		}
		r.line(b, cells)
	}
}
