package sheet

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"dynolake/derive"
	"dynolake/pipeline/config/entry"
	"dynolake/pipeline/mapping"
	"dynolake/schema"
)

// cell is one field of one entry as written.
type cell struct {
	field string // One of fields, date or time; empty for a column that is none.
	name  string // The heading or key as written.
	unit  string // From the heading.
	texts []string
	at    entry.Position
}

// row is one entry of a sheet.
type row struct {
	sheet    schema.Sheet
	at       entry.Position
	filesAt  entry.Position
	files    []File // Resolved; empty for a NAME.run.yaml without files until it is laid beside the logs.
	implicit bool   // A NAME.run.yaml that names no files.
	rank     int
	faults   []error
	findings []schema.Finding
	missing  []string // Where entries wait: files that are not there, relative to what was named.
}

// Empty is a sheet that says nothing.
func Empty() schema.Sheet {
	return schema.Sheet{Gear: math.NaN(), BaroKPa: math.NaN(), AmbientC: math.NaN(), HumidityPct: math.NaN(), DewPointC: math.NaN(), WetBulbC: math.NaN()}
}

// Fill gives s with every field that it leaves open taken from with.
func Fill(s, with schema.Sheet) schema.Sheet {
	for _, f := range []struct {
		to   *string
		from string
	}{
		{&s.Vehicle, with.Vehicle}, {&s.Calibration, with.Calibration}, {&s.Hardware, with.Hardware}, {&s.Test, with.Test}, {&s.StartedAt, with.StartedAt},
		{&s.Dyno, with.Dyno}, {&s.Zero, with.Zero}, {&s.Standard, with.Standard}, {&s.Note, with.Note}, {&s.Origin, with.Origin},
	} {
		if *f.to == "" {
			*f.to = f.from
		}
	}
	for _, f := range []struct {
		to   *float64
		from float64
	}{{&s.Gear, with.Gear}, {&s.BaroKPa, with.BaroKPa}, {&s.AmbientC, with.AmbientC}, {&s.HumidityPct, with.HumidityPct}, {&s.DewPointC, with.DewPointC}, {&s.WetBulbC, with.WetBulbC}} {
		if math.IsNaN(*f.to) {
			*f.to = f.from
		}
	}
	return s
}

// Tests are the kinds of test.
func Tests() []string { return []string{"sweep", "steps", "road", "coast", "other"} }

// makeRow reads the cells of one entry. Every fault in it is kept.
func makeRow(at entry.Position, cells []cell) *row {
	r := &row{sheet: Empty(), at: at, filesAt: at}
	r.sheet.Origin = at.String()
	var date, clock cell
	for _, c := range cells {
		if c.field == "files" {
			r.sheet.Files, r.filesAt = append(r.sheet.Files, c.texts...), c.at
			continue
		}
		if c.text() == "" {
			continue
		}
		switch c.field {
		case "date":
			date = c
		case "time":
			clock = c
		case "":
			r.keep(c)
		default:
			r.set(c)
		}
	}
	r.start(date, clock)
	return r
}

func (c cell) text() string { return strings.TrimSpace(strings.Join(c.texts, "; ")) }

func (r *row) fault(c cell, err error) {
	name := c.field
	if name == "" {
		name = c.name
	}
	r.faults = append(r.faults, c.at.Errorf(name, "%w", err))
}

// set reads one field.
func (r *row) set(c cell) {
	s, text := &r.sheet, c.text()
	switch c.field {
	case "vehicle":
		s.Vehicle = text
	case "calibration":
		s.Calibration = text
	case "hardware":
		s.Hardware = text
	case "dyno":
		s.Dyno = text
	case "note":
		s.Note = join(text, s.Note)
	case "started_at":
		s.StartedAt = text
		if _, err := Time(text, time.UTC); err != nil {
			r.fault(c, err)
		}
	case "test":
		r.test(c, strings.ToLower(text))
	case "standard":
		r.standard(c, text)
	case "zero":
		s.Zero = text
		if _, err := mapping.ParseZeros(text); err != nil {
			r.fault(c, err)
		}
	default:
		r.figure(c)
	}
}

// figure reads one field that is a number with a unit.
func (r *row) figure(c cell) {
	s, text := &r.sheet, c.text()
	number := func(to *float64, want entry.Want) {
		q, err := entry.QuantityIn(text, c.unit, want)
		if err != nil {
			r.fault(c, err)
			return
		}
		*to = q.Value
	}
	switch c.field {
	case "gear":
		number(&s.Gear, entry.Want{Unit: "1", Low: 1, High: 24, Example: "4"})
		if s.Gear != math.Trunc(s.Gear) && !math.IsNaN(s.Gear) {
			r.fault(c, fmt.Errorf("found %q: want a whole number such as 4", text))
		}
	case "baro":
		number(&s.BaroKPa, entry.Want{Unit: "kPa", Reference: schema.Absolute, Low: 50, High: 110, Example: "99.1 kPa or 991 mbar"})
	case "ambient":
		number(&s.AmbientC, entry.Want{Unit: "°C", Low: -45, High: 60, Example: "21 °C or 70 °F"})
	case "dew_point":
		number(&s.DewPointC, entry.Want{Unit: "°C", Low: -50, High: 60, Example: "9.5 °C or 49 °F"})
		r.moisture(c)
	case "wet_bulb":
		number(&s.WetBulbC, entry.Want{Unit: "°C", Low: 0, High: 60, Example: "15 °C or 59 °F"})
		r.moisture(c)
	case "humidity":
		number(&s.HumidityPct, entry.Want{Unit: "%", Low: 0, High: 100, Example: "45 %"})
		r.moisture(c)
		if s.HumidityPct > 0 && s.HumidityPct <= 1 {
			r.find(schema.Doubt, "humidity_implausible", "humidity_pct", fmt.Sprintf("%s: humidity %q is read as a percentage: was %.3g %% meant?", c.at, text, 100*s.HumidityPct))
		}
	}
}

// moisture reports a second statement of how moist the air is.
func (r *row) moisture(c cell) {
	n := 0
	for _, v := range []float64{r.sheet.HumidityPct, r.sheet.DewPointC, r.sheet.WetBulbC} {
		if !math.IsNaN(v) {
			n++
		}
	}
	if n > 1 {
		r.fault(c, errors.New("found a second one of humidity, dew_point and wet_bulb: want one of the three"))
	}
}

func (r *row) test(c cell, text string) {
	if i := slices.Index(Tests(), text); i >= 0 {
		r.sheet.Test = Tests()[i]
		return
	}
	r.fault(c, fmt.Errorf("found %q: %s", c.text(), entry.Expected(text, Tests())))
}

func (r *row) standard(c cell, text string) {
	if s, ok := derive.ParseStandard(text); ok {
		r.sheet.Standard = s.Name
		return
	}
	var names []string
	for _, s := range derive.Standards() {
		names = append(names, s.Name)
	}
	r.fault(c, fmt.Errorf("found %q: %s", text, entry.Expected(text, names)))
}

// keep puts what is no field into the note.
func (r *row) keep(c cell) {
	r.sheet.Note = join(r.sheet.Note, c.name+": "+c.text())
	severity, text := schema.Note, fmt.Sprintf("%s: %q is no field of a run sheet, so its value is kept in the note", c.at, c.name)
	if near := entry.Nearest(c.name, fields); near != "" {
		severity, text = schema.Doubt, text+fmt.Sprintf(": did you mean %q?", near)
	}
	r.find(severity, "sheet_unknown_field", c.name, text)
}

// start joins a date and a time in columns of their own.
func (r *row) start(date, clock cell) {
	if date.text() == "" && clock.text() == "" {
		return
	}
	c := date
	if date.text() == "" {
		r.fault(clock, errors.New("found a time without a date: want both, or started_at"))
		return
	}
	if r.sheet.StartedAt != "" {
		r.fault(c, errors.New("found a date beside started_at: want one of the two"))
		return
	}
	text := strings.TrimSpace(date.text() + " " + clock.text())
	if _, err := Time(text, time.UTC); err != nil {
		r.fault(c, err)
		return
	}
	r.sheet.StartedAt = text
}

func (r *row) find(severity schema.Severity, code, channel, text string) {
	r.findings = append(r.findings, finding(r.at.File, severity, code, channel, text))
}

func finding(source string, severity schema.Severity, code, channel, text string) schema.Finding {
	return schema.Finding{Source: source, Severity: severity, Code: code, Channel: channel, Text: text, Value: math.NaN(), T0S: math.NaN(), T1S: math.NaN()}
}

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}
