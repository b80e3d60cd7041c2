package delimited

import (
	"fmt"
	"math"

	"dynolake/schema"
)

// tally counts what was repaired, doubted or dropped, by reason, so that a million bad rows are one finding.
type tally struct {
	source string
	order  []*reason
	byCode map[string]*reason
}

type reason struct {
	code    string
	line    int // Where it was first met.
	n       int
	example string
}

// facts say what each code means: its severity and, after the count, what was found and done.
var facts = map[string]struct {
	severity schema.Severity
	unit     string
	text     string
}{
	"short_row":            {schema.Doubt, "rows", "rows have fewer cells than the header: the cells missing at the end are taken as missing values"},
	"long_row":             {schema.Doubt, "rows", "rows have more cells than the header: the cells beyond it were left out"},
	"repeated_header":      {schema.Note, "rows", "header lines come again among the rows and were passed over"},
	"changed_header":       {schema.Note, "headers", "headers with other columns come among the rows: what follows them is read as channels of their own"},
	"repeated_line":        {schema.Note, "rows", "lines repeat the line before them exactly; they are kept as logged"},
	"row_without_time":     {schema.Doubt, "rows", "rows have no time that can be read and were dropped"},
	"cut_last_line":        {schema.Doubt, "rows", "line at the end of the file is cut (fewer cells, no line ending) and was dropped"},
	"line_too_long":        {schema.Doubt, "rows", "lines are longer than 1 MiB and were passed over"},
	"nul_bytes":            {schema.Doubt, "rows", "lines hold NUL bytes, as a recorder that loses power leaves them, and were dropped"},
	"mixed_decimal_signs":  {schema.Doubt, "cells", "numbers have another decimal sign than the rest of the file and were read by their own"},
	"thousands_separator":  {schema.Note, "cells", "numbers have thousands separators, which were left out"},
	"decimal_sign_guessed": {schema.Doubt, "cells", "number tells not whether its comma or point is a decimal sign or a thousands separator: it is read as a decimal sign"},
	"infinite_value":       {schema.Doubt, "cells", "cells hold an infinity and were taken as missing"},
	"unnamed_value":        {schema.Doubt, "cells", "values stand in columns without a name that were empty at the beginning of the file, and were left out"},
	"too_many_channels":    {schema.Doubt, "rows", "rows name channels beyond the first 4096 and were left out"},
	"row_without_name":     {schema.Doubt, "rows", "rows name no channel and were dropped"},
	"comment_line":         {schema.Note, "rows", "comment lines come among the rows; the first hundred are kept as notes"},
	"text_beyond_table":    {schema.Note, "rows", "lines behind the table are no rows of it; the first hundred are kept as notes"},
	"preamble_cut":         {schema.Note, "lines", "lines of the preamble beyond the first 10000 were not kept as notes"},
	"clock_glitch":         {schema.Doubt, "rows", "rows have a time that falls to the beginning for a single row and were dropped"},
	"clock_wrapped":        {schema.Note, "times", "passes of the clock over midnight, over the hour where it shows minutes and seconds alone, or over the end of its counter: it was carried on"},
	"recorder_restart":     {schema.Note, "restarts", "restarts: the time falls back to near its beginning, and what follows is a run of its own"},
}

func newTally(source string) *tally { return &tally{source: source, byCode: map[string]*reason{}} }

// add counts one more of a code, keeping the first cell as the example.
func (t *tally) add(code string, line int, cell []byte) {
	r := t.byCode[code]
	if r == nil {
		r = &reason{code: code, line: line}
		if len(cell) > 0 {
			r.example = text(cell[:min(len(cell), 60)])
		}
		t.byCode[code] = r
		t.order = append(t.order, r)
	}
	r.n++
}

// report gives every count to the sink as one finding.
func (t *tally) report(sink schema.Sink) {
	for _, r := range t.order {
		f := facts[r.code]
		msg := fmt.Sprintf("%s:%d:1: %d %s", t.source, r.line, r.n, f.text)
		if r.example != "" {
			msg += fmt.Sprintf("; first here: %q", r.example)
		}
		sink.Find(t.finding(f.severity, r.code, "", msg, float64(r.n), f.unit))
	}
	t.order, t.byCode = nil, map[string]*reason{}
}

// finding fills in what every finding of the source has.
func (t *tally) finding(sev schema.Severity, code, channel, msg string, value float64, unit string) schema.Finding {
	nan := math.NaN()
	return schema.Finding{Source: t.source, Severity: sev, Code: code, Channel: channel, Text: msg, Value: value, Unit: unit, T0S: nan, T1S: nan}
}
