package pipeline

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"dynolake/derive"
	"dynolake/derive/stats"
	"dynolake/pipeline/sheet"
	"dynolake/schema"
)

// describe fills in what the logs say of a run, where its sheet does not: start, length, station pressure, air.
func (r *Recipe) describe(data *schema.RunData, sh schema.Sheet, m matched, t0 float64) {
	run, f := &data.Run, data.Frame
	run.Rows = int64(f.Len())
	run.DurationS = f.T[f.Len()-1]
	switch logged := f.Has("baro_kpa"); {
	case m.baro.Assumed:
	case logged || !math.IsNaN(sh.BaroKPa):
		run.BaroKPa = either(sh.BaroKPa, m.baro.KPa)
	default:
		run.BaroKPa = m.baro.KPa
		data.Findings = append(data.Findings, remark(schema.Note, "baro_inferred", m.baro.KPa, "kPa",
			"no barometric pressure was logged or stated: taken to be %.2f kPa from %s", m.baro.KPa, m.baro.From))
	}
	ambient, humidity := stats.Median(f.Column("ambient_c")), stats.Median(f.Column("humidity_pct"))
	run.AmbientC = either(sh.AmbientC, ambient)
	run.HumidityPct = either(either(sh.HumidityPct, r.moisture(data, sh)), humidity)
	airDisagrees(data, "ambient_c", "°C", sh.AmbientC, ambient, ambientApart)
	airDisagrees(data, "humidity_pct", "%", sh.HumidityPct, humidity, humidityApart)
	run.OperatorNote = noted(run.OperatorNote, m.logs)
	r.start(data, sh, m, t0)
}

// How far a sheet's figures may be from what was logged without a word: common practice, no source.
const (
	ambientApart  = 10.0 // K. A sensor on the vehicle reads warmer than the room.
	humidityApart = 25.0 // Points.
)

// airDisagrees tells a figure of the sheet that is far from the median of what was logged. Rows keep what was logged.
func airDisagrees(data *schema.RunData, column, unit string, stated, logged, apart float64) {
	if math.Abs(logged-stated) > apart {
		f := remark(schema.Doubt, "air_disagrees", logged-stated, unit, "the run sheet says %.4g %s, %s as logged is %.4g in the median: the run has the sheet's figure, its rows what was logged; check which is right", stated, unit, column, logged)
		f.Channel = column
		data.Findings = append(data.Findings, f)
	}
}

// moisture is the relative humidity that a sheet's dew point or wet bulb says, at the run's ambient temperature; NaN where neither is stated or says none.
func (r *Recipe) moisture(data *schema.RunData, sh schema.Sheet) float64 {
	run := data.Run
	vapour, what, code := derive.DewPointVapour(sh.DewPointC), fmt.Sprintf("a dew point of %.4g °C", sh.DewPointC), "humidity_from_dew_point"
	if math.IsNaN(sh.DewPointC) {
		if math.IsNaN(sh.WetBulbC) {
			return math.NaN()
		}
		vapour, what, code = derive.WetBulbVapour(sh.WetBulbC, run.AmbientC, derive.AbsKPa(run.BaroKPa)), fmt.Sprintf("a wet bulb of %.4g °C", sh.WetBulbC), "humidity_from_wet_bulb"
	}
	rh := derive.RelativeHumidity(vapour, run.AmbientC)
	if math.IsNaN(rh) {
		data.Findings = append(data.Findings, remark(schema.Doubt, "humidity_not_reckoned", math.NaN(), "%",
			"%s was stated, and no humidity follows from it: the run's ambient temperature (%.4g °C) must be known and not below it, and for a wet bulb barometric (%.4g kPa) too", what, run.AmbientC, run.BaroKPa))
		return rh
	}
	data.Findings = append(data.Findings, remark(schema.Note, code, rh, "%", "%s at %.4g °C is a relative humidity of %.3g %%", what, run.AmbientC, rh))
	return rh
}

// noted joins what a person wrote into the logs themselves, as a measurement file's comment, to the sheet's note.
func noted(note string, logs []schema.Log) string {
	parts := []string{}
	if note != "" {
		parts = append(parts, note)
	}
	for _, l := range logs {
		for _, n := range l.Notes {
			if text := strings.TrimSpace(n[1]); n[0] == "comment" && text != "" && !slices.Contains(parts, text) {
				parts = append(parts, text)
			}
		}
	}
	return strings.Join(parts, "\n")
}

// startApart is how far a sheet's start may be from the log's own clock without a word: people note whole minutes.
const startApart = 2 * time.Minute

// start finds when the run's first row was logged: as its sheet says, else as the log's own clock says. Where the two differ that is told.
func (r *Recipe) start(data *schema.RunData, sh schema.Sheet, m matched, t0 float64) {
	own, source, clocked := r.ownStart(m, t0)
	if sh.StartedAt != "" {
		at, err := sheet.Time(sh.StartedAt, r.Config.Location)
		if err == nil {
			at = at.UTC()
			data.Run.StartedAt = &at
			if clocked {
				r.startsApart(data, at, own, source)
			}
			return
		}
		data.Findings = append(data.Findings, remark(schema.Doubt, "time_not_understood", math.NaN(), "", "%v", err))
	}
	if clocked {
		data.Run.StartedAt = &own
	}
}

// ownStart is the time of the run's first row by the first log whose clock knows the date.
func (r *Recipe) ownStart(m matched, t0 float64) (at time.Time, source string, ok bool) {
	for i, l := range m.logs {
		clock, ok := dated(l)
		if !ok || !m.places[i].Placed {
			continue
		}
		at := clock.Start
		if !clock.Zoned {
			at = time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), at.Second(), at.Nanosecond(), r.Config.Location)
		}
		own := m.places[i].Own(t0) // The first row's time on this log's clock.
		return at.Add(time.Duration(own * float64(time.Second))).UTC().Truncate(time.Microsecond), l.Source, true
	}
	return at, "", false
}

// startsApart tells where the sheet's start is not the log's. A sheet that states a day alone speaks of all of it.
func (r *Recipe) startsApart(data *schema.RunData, stated, own time.Time, source string) {
	by := own.Sub(stated)
	local := stated.In(r.Config.Location)
	day := local.Equal(time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, r.Config.Location))
	if by.Abs() <= startApart || day && own.In(r.Config.Location).Format(time.DateOnly) == local.Format(time.DateOnly) {
		return
	}
	f := remark(schema.Doubt, "start_disagrees", by.Seconds(), "s", "the run sheet says that it started at %s, the log's own clock %s: the sheet is followed; check the recorder's clock, the sheet and the lake's time zone",
		stated.Format(time.RFC3339), own.Format(time.RFC3339))
	f.Source = source
	data.Findings = append(data.Findings, f)
}

func dated(l schema.Log) (schema.Clock, bool) {
	for _, s := range l.Series {
		if !s.Clock.Start.IsZero() {
			return s.Clock, true
		}
	}
	return schema.Clock{}, false
}

func either(a, b float64) float64 {
	if !math.IsNaN(a) {
		return a
	}
	return b
}

// runOf is the run as its sheet states it.
func runOf(id string, s schema.Sheet) schema.Run {
	nan := math.NaN()
	test := s.Test
	if test == "" {
		test = "other"
	}
	standard := s.Standard
	if standard == "" {
		standard = "none"
	}
	return schema.Run{ID: id, Vehicle: s.Vehicle, Calibration: s.Calibration, Hardware: s.Hardware, Test: test, Dyno: s.Dyno, Standard: standard,
		BaroKPa: nan, AmbientC: nan, HumidityPct: nan, OperatorNote: strings.TrimSpace(s.Note), EngineVersion: Version}
}

// remark is a finding without a place in time.
func remark(severity schema.Severity, code string, value float64, unit, format string, args ...any) schema.Finding {
	nan := math.NaN()
	return schema.Finding{Severity: severity, Code: code, Text: fmt.Sprintf(format, args...), Value: value, Unit: unit, T0S: nan, T1S: nan}
}
