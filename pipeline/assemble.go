package pipeline

import (
	"fmt"
	"math"
	"path/filepath"

	"dynolake/derive"
	"dynolake/derive/segment"
	"dynolake/pipeline/align"
	"dynolake/pipeline/mapping"
	"dynolake/schema"
)

func mappingsDir(config string) string { return filepath.Join(config, "mappings") }

// matched is a run's logs with every channel's claim, settled by evidence.
type matched struct {
	logs     []schema.Log
	claims   []schema.Claim
	places   []align.Placement
	baro     mapping.Baro
	findings []schema.Finding
}

// match repairs the clocks, reads names and units, places the recorders and settles the claims by what the values say.
func (r *Recipe) match(logs []schema.Log, ctx mapping.Context) matched {
	m := matched{logs: logs}
	for i := range logs {
		m.findings = append(m.findings, align.Repair(&logs[i])...)
	}
	seen := thin(logs)
	claims := mapping.ByName(seen, r.Rules, ctx)
	places, found := align.Place(seen, claims, r.Config.Location)
	m.findings = append(m.findings, found...)
	shifts := make([]float64, len(places))
	for i, p := range places {
		shifts[i] = math.NaN() // It could not be placed: its times say nothing of the others'.
		if p.Placed {
			shifts[i] = p.Middle(seen[i])
		}
	}
	m.places = places
	m.claims, found = mapping.ByEvidence(seen, claims, shifts, ctx)
	m.findings = append(m.findings, found...)
	m.baro = mapping.Barometric(seen, m.claims, shifts, ctx)
	m.claims, found = mapping.Zeros(seen, m.claims, shifts, ctx, m.baro)
	m.findings = append(m.findings, found...)
	return m
}

// assemble makes one run of its logs: clocks repaired, channels mapped, recorders placed, columns derived, segments found.
func (r *Recipe) assemble(id string, sh schema.Sheet, logs []schema.Log) (schema.RunData, error) {
	data := schema.RunData{Run: runOf(id, sh)}
	vehicle, dyno := r.entries(&data)
	for i := range logs {
		data.Sources = append(data.Sources, account(logs[i]))
		data.Findings = append(data.Findings, logs[i].Findings...)
	}
	m := r.match(logs, mapping.Context{Sheet: sh, Vehicle: vehicle})
	data.Findings = append(data.Findings, m.findings...)
	for i, p := range m.places {
		if data.Sources[i].ShiftS = p.Shift; !p.Placed {
			data.Sources[i].ShiftS = math.NaN()
		}
	}
	judged := m.judge()
	merged, err := align.Merge(m.logs, m.claims, m.places, m.baro.KPa)
	if err != nil {
		for _, f := range m.findings {
			if f.Severity == schema.Rejected { // What left no row is the better reason.
				return data, fmt.Errorf("%s: %s", f.Source, f.Text)
			}
		}
		return data, fmt.Errorf("merge the clocks of %s: %w", logs[0].Source, err)
	}
	data.Frame, data.Unmapped = merged.Frame, merged.Unmapped
	data.Findings = append(data.Findings, merged.Findings...)
	data.Findings = append(data.Findings, fromFirstRow(judged, merged.T0)...)
	r.describe(&data, sh, m, merged.T0)
	finish(&data, derive.Context{Run: data.Run, Vehicle: vehicle, Dyno: dyno, SheetGear: sh.Gear})
	return data, nil
}

// finish adds the engineered columns, the segments and the curves, and writes the run's id on all that belongs to it.
func finish(data *schema.RunData, ctx derive.Context) {
	f, id := data.Frame, data.Run.ID
	data.Findings = append(data.Findings, derive.Columns(f, ctx)...)
	segments, curves, found := segment.All(f, segment.Context{Vehicle: ctx.Vehicle, Test: data.Run.Test, DynoKind: data.Run.DynoKind, Gear: ctx.SheetGear})
	data.Segments, data.Curves = segments, curves
	data.Findings = append(data.Findings, found...)
	data.Findings = append(data.Findings, derive.Coastdown(f, segments, ctx)...)
	for i := range data.Segments {
		data.Segments[i].RunID = id
	}
	for i := range data.Curves {
		data.Curves[i].RunID = id
	}
	for i := range data.Sources {
		data.Sources[i].RunID = id
	}
	for i := range data.Unmapped {
		data.Unmapped[i].RunID = id
	}
	for i := range data.Findings {
		data.Findings[i].RunID = id
	}
}

// account counts a log as it was read, before anything is repaired.
func account(l schema.Log) schema.SourceFile {
	s := schema.SourceFile{Source: l.Source, Form: l.Form, FirstTime: math.Inf(1), LastTime: math.Inf(-1)}
	for _, series := range l.Series {
		s.Rows += int64(len(series.T))
		s.Channels += len(series.Channels)
		for _, t := range series.T {
			s.FirstTime, s.LastTime = math.Min(s.FirstTime, t), math.Max(s.LastTime, t)
		}
	}
	if s.FirstTime > s.LastTime {
		s.FirstTime, s.LastTime = math.NaN(), math.NaN()
	}
	return s
}
