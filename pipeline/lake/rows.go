package lake

import (
	"cmp"
	"iter"
	"maps"
	"math"
	"slices"
	"strconv"
	"time"

	"dynolake/schema"
)

// row is one row of a small table by column name; a name that is missing is NULL. Empty texts, NaN and zero times are too.
type row map[string]any

// smallSheets lays a batch out as the tables beside samples, runs last: a file of it proves that the others are there.
// Findings without a time are dated at.
func smallSheets(runs []schema.RunData, loose []Refusal, at time.Time) []sheet {
	rows, bins := map[string][]row{}, []bin{}
	add := func(table, owner string, r row) {
		r["run_id"] = owner
		rows[table] = append(rows[table], r)
	}
	for _, d := range runs {
		id := d.Run.ID
		add("runs", id, runRow(d.Run, at))
		for _, s := range d.Segments {
			add("segments", id, segmentRow(s))
		}
		for _, c := range d.Curves {
			bins = append(bins, bin{id, c})
		}
		for _, s := range d.Sources {
			add("sources", id, sourceRow(s))
		}
		for _, u := range d.Unmapped {
			add("unmapped", id, unmappedRow(u))
		}
		for _, f := range d.Findings {
			add("findings", id, findingRow(f, at))
		}
	}
	for _, refused := range loose {
		for _, f := range refused.Findings {
			r := findingRow(f, at)
			r["sha256"] = refused.SHA256
			rows["findings"] = append(rows["findings"], r)
		}
	}
	var sheets []sheet
	for _, name := range []string{"segments", "curves", "sources", "unmapped", "findings", "runs"} {
		switch {
		case len(rows[name]) > 0:
			sheets = append(sheets, newSheet(name, rows[name]))
		case name == "curves" && len(bins) > 0:
			sheets = append(sheets, curveSheet(bins))
		}
	}
	return sheets
}

func newSheet(name string, rows []row) sheet {
	table, _ := schema.LookupTable(name) // All names are in the text above.
	s := sheet{table: table, columns: table.Columns, rows: len(rows)}
	s.cell = func(i int, column string) any { return rows[i][column] }
	s.names = func(i int) iter.Seq[string] { return maps.Keys(rows[i]) }
	s.owner = func(i int) string { return ownerOf(rows[i]["run_id"], rows[i]["sha256"]) }
	if name == "unmapped" {
		s.weight = func(i int) int { return 1 + len(rows[i]["t_s"].([]float64)) }
	}
	return s
}

// ownerOf tells whose a row is: a run's, or a refused source's.
func ownerOf(run, sha any) string {
	if id, _ := run.(string); id != "" {
		return id
	}
	text, _ := sha.(string)
	return text
}

func runRow(r schema.Run, at time.Time) row {
	started := time.Time{}
	if r.StartedAt != nil {
		started = *r.StartedAt
	}
	return row{
		"vehicle": r.Vehicle, "platform": r.Platform, "duty": r.Duty, "calibration": r.Calibration, "hardware": r.Hardware,
		"test": r.Test, "started_at": started, "duration_s": r.DurationS, "rows": r.Rows, "dyno": r.Dyno, "dyno_kind": r.DynoKind,
		"standard": r.Standard, "baro_kpa": r.BaroKPa, "ambient_c": r.AmbientC, "humidity_pct": r.HumidityPct,
		"operator_note": r.OperatorNote, "ingested_at": orTime(r.IngestedAt, at), "engine_version": r.EngineVersion,
	}
}

func orTime(t, otherwise time.Time) time.Time {
	if t.IsZero() {
		return otherwise
	}
	return t
}

func segmentRow(s schema.Segment) row {
	r := row{"segment_id": int64(s.ID), "kind": s.Kind, "t0_s": s.T0S, "t1_s": s.T1S}
	switch {
	case s.Pull != nil:
		p := s.Pull
		r["gear"], r["locked"], r["rpm_from"], r["rpm_to"] = p.Gear, p.Locked, p.RPMFrom, p.RPMTo
		r["peak_power_kw"], r["peak_torque_nm"] = p.PeakPowerKW, p.PeakTorqueNM
		r["charge_start_c"], r["coolant_c"], r["trans_c"] = p.ChargeStartC, p.CoolantC, p.TransC
		r["since_last_s"], r["flagged"] = p.SinceLastS, p.Flagged
	case s.Shift != nil:
		h := s.Shift
		r["from_gear"], r["to_gear"], r["locked"] = h.FromGear, h.ToGear, h.Locked
		r["engine_speed_rpm"], r["pedal_pct"] = h.EngineSpeedRPM, h.PedalPct
	case s.MeanRPM > 0: // Zero is what a kind without it has.
		r["mean_rpm"] = s.MeanRPM
	}
	return r
}

func sourceRow(s schema.SourceFile) row {
	return row{
		"source": s.Source, "form": s.Form, "sha256": s.SHA256, "bytes": s.Bytes, "rows": s.Rows, "channels": int64(s.Channels),
		"first_time_s": s.FirstTime, "last_time_s": s.LastTime, "shift_s": s.ShiftS,
	}
}

// unmappedRow keeps a channel as it was logged. An infinite value is kept as text: as a number it would spoil every sum.
func unmappedRow(u schema.Unmapped) row {
	values := slices.Clone(u.Values)
	var texts []string
	put := func(i int, text string) {
		if texts == nil {
			texts = make([]string, len(u.T))
		}
		texts[i] = text
	}
	for i, v := range values {
		if math.IsInf(v, 0) {
			put(i, strconv.FormatFloat(v, 'g', -1, 64))
			values[i] = math.NaN()
		}
	}
	for i, text := range u.Texts {
		if i >= 0 && i < len(u.T) {
			put(i, text)
		}
	}
	t := u.T
	if t == nil {
		t = []float64{}
	}
	r := row{"source": u.Source, "channel_group": u.ChannelGroup, "name": u.Name, "unit": u.Unit, "t_s": t, "value": values}
	if texts != nil {
		r["text"] = texts
	}
	return r
}

func findingRow(f schema.Finding, at time.Time) row {
	return row{
		"source": f.Source, "severity": string(f.Severity), "code": f.Code, "channel": f.Channel, "text": f.Text, "value": f.Value,
		"unit": f.Unit, "t0_s": f.T0S, "t1_s": f.T1S, "at": orTime(f.At, at),
	}
}

// byID puts a batch into an order that does not depend on how it was gathered.
func byID(runs []Entry) []Entry {
	sorted := slices.Clone(runs)
	slices.SortFunc(sorted, func(a, b Entry) int { return cmp.Compare(a.Run.ID, b.Run.ID) })
	return sorted
}
