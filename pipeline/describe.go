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
	run.AmbientC = either(sh.AmbientC, stats.Median(f.Column("ambient_c")))
	run.HumidityPct = either(either(sh.HumidityPct, r.moisture(data, sh)), stats.Median(f.Column("humidity_pct")))
	run.OperatorNote = noted(run.OperatorNote, m.logs)
	r.start(data, sh, m, t0)
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

// start finds when the run's first row was logged: as its sheet says, else as the log's own clock says.
func (r *Recipe) start(data *schema.RunData, sh schema.Sheet, m matched, t0 float64) {
	if sh.StartedAt != "" {
		at, err := sheet.Time(sh.StartedAt, r.Config.Location)
		if err == nil {
			at = at.UTC()
			data.Run.StartedAt = &at
			return
		}
		data.Findings = append(data.Findings, remark(schema.Doubt, "time_not_understood", math.NaN(), "", "%v", err))
	}
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
		at = at.Add(time.Duration(own * float64(time.Second))).UTC().Truncate(time.Microsecond)
		data.Run.StartedAt = &at
		return
	}
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
