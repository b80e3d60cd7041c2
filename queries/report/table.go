package report

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
)

// table is shown with its head; numbers stand to the right.
type table struct {
	Caption, Command string
	Head             []string
	Rows             [][]cell
	Note             string
}

type cell struct {
	Text          string
	Number, Alert bool
}

func words(list ...string) []cell {
	cells := make([]cell, len(list))
	for i, s := range list {
		cells[i] = cell{Text: s}
	}
	return cells
}

// Number is whether a column holds numbers, so that its head stands over them.
func (t table) Number(column int) bool { return len(t.Rows) > 0 && t.Rows[0][column].Number }

// maxRows is how long a table may get; the command beside it gives all of it.
const maxRows = 60

func (t *table) shorten() {
	if n := len(t.Rows) - maxRows; n > 0 {
		t.Rows = t.Rows[:maxRows]
		t.Note = fmt.Sprintf("%s more; the command gives all.", plural(n, "row", "rows"))
	}
}

// limitTable lists the limits of each vehicle's latest calibration, those passed first.
func (w *writer) limitTable(ctx context.Context) (section, error) {
	s := section{ID: "limits", Title: "Limits", Lead: "Of each vehicle's latest calibration: the worst value measured and the power at which the limit is met. Limits are guides; the makers' figures come first.",
		Empty: "No limits are stated in config/limits.yaml, or none of the columns that they name was logged."}
	a, err := w.ask(ctx, "limits/margin")
	if err != nil {
		s.Fault = err.Error()
		return s, ctx.Err()
	}
	if a == nil {
		return s, nil
	}
	t := table{Caption: "Limits by vehicle", Command: a.command, Head: []string{"Vehicle", "Calibration", "Limit", "Bound", "Worst", "Margin", "Met at", "Basis"}}
	var rows []row
	for _, p := range w.platforms {
		for _, v := range p.vehicles {
			latest, _ := v.latest()
			rows = append(rows, a.of("vehicle", v.vehicle, "calibration", latest)...)
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(state(a), state(b)) })
	for _, r := range rows {
		direction := "at most "
		if r.text("direction") == "min" {
			direction = "at least "
		}
		line := words(r.text("vehicle"), named(r.text("calibration")), upper(word(r.text("quantity"))), direction+w.stored(r, "bound"))
		worst := cell{Text: w.stored(r, "worst"), Number: true, Alert: passed(r)}
		if worst.Alert {
			worst.Text += " passed"
		}
		line = append(line, worst, cell{Text: w.difference(r, "margin"), Number: true}, cell{Text: r.shown("expected_power_kw"), Number: true}, cell{Text: cmp.Or(r.text("basis"), r.text("note"))})
		t.Rows = append(t.Rows, line)
	}
	t.shorten()
	if len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	return s, nil
}

// passed is whether a limit's worst value lies beyond its bound.
func passed(r row) bool {
	worst, ok1 := r.number("worst")
	bound, ok2 := r.number("bound")
	return ok1 && ok2 && (r.text("direction") == "min" && worst < bound || r.text("direction") != "min" && worst > bound)
}

// state sorts limits: passed, met, in reach, and the others.
func state(r row) int {
	switch {
	case passed(r):
		return 0
	case r.text("basis") == "measured":
		return 1
	case r.has("expected_power_kw"):
		return 2
	}
	return 3
}

// quality tells how much the figures may be trusted: scatter, what was doubted and what was set aside.
func (w *writer) quality(ctx context.Context) (section, error) {
	s := section{ID: "quality", Title: "Data quality", Lead: "Scatter between pulls, and what was guessed, doubted or set aside when logs came in.", Empty: "Nothing was doubted and nothing was set aside."}
	if w.unnamed > 0 {
		s.Lead += fmt.Sprintf(" %s name no vehicle or no platform and are in no comparison: give them a run sheet.", plural(int(w.unnamed), "run", "runs"))
	}
	if err := w.repeat(ctx, &s); err != nil {
		s.Fault = err.Error()
		return s, ctx.Err()
	}
	const kinds = `SELECT severity, code, count(*) AS findings, count(DISTINCT run_id) AS runs, min(text) AS example
		FROM findings WHERE severity <> 'note' GROUP BY severity, code ORDER BY severity DESC, findings DESC, code`
	a, err := w.sql(ctx, kinds)
	if err != nil {
		return s, err
	}
	t := table{Caption: "Doubts and refusals", Command: a.command, Head: []string{"Severity", "What", "Findings", "Runs", "An example"}}
	for _, r := range a.rows {
		t.Rows = append(t.Rows, []cell{{Text: r.text("severity"), Alert: r.text("severity") == "rejected"}, {Text: spaced(r.text("code"))},
			{Text: r.text("findings"), Number: true}, {Text: r.text("runs"), Number: true}, {Text: clip(r.text("example"), 160)}})
	}
	t.shorten()
	if len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	return s, nil
}

// repeat adds the table of scatter, where its query is there.
func (w *writer) repeat(ctx context.Context, s *section) error {
	a, err := w.ask(ctx, "quality/repeat")
	if a == nil || err != nil || len(a.rows) == 0 {
		return err
	}
	t := table{Caption: "Scatter between pulls, sensors at rest, channels logged", Command: a.command,
		Head: []string{"Vehicle", "Calibration", "Pulls", "Doubted", "Peak power, mean", "Scatter (sd)", "Of the mean", "Largest offset, engine stopped", "Channels logged"}}
	for _, r := range a.rows {
		line := words(r.text("vehicle"), named(r.text("calibration")))
		for _, s := range []string{r.text("n"), r.text("flagged_n"), r.shown("peak_power_kw"), r.shown("peak_power_sd_kw"), share(r, "peak_power_spread_frac", 1), offset(r), share(r, "coverage_frac", 0)} {
			line = append(line, cell{Text: s, Number: true})
		}
		t.Rows = append(t.Rows, line)
	}
	t.shorten()
	s.Tables = append(s.Tables, t)
	return nil
}

// share is a number of 0 to 1 in percent.
func share(r row, column string, digits int) string {
	x, ok := r.number(column)
	if !ok {
		return "–"
	}
	return fmt.Sprintf("%.*f\u00a0%%", digits, 100*x)
}

// offset is the sensor that reads furthest from what it should with the engine stopped, and by how much.
func offset(r row) string {
	worst, most := "", -1.0
	for _, c := range r.a.columns {
		if x, ok := r.number(c.Name); ok && strings.HasSuffix(c.Name, "_offset_kpa") && math.Abs(x) > most {
			worst, most = c.Name, math.Abs(x)
		}
	}
	if worst == "" {
		return "–"
	}
	return strings.ReplaceAll(strings.TrimSuffix(worst, "_offset_kpa"), "_", " ") + " " + sign(r, worst) + r.shown(worst)
}

// side sets the platforms side by side.
func (w *writer) side(ctx context.Context) (*table, error) {
	a, err := w.ask(ctx, "platform/summary")
	if a == nil || err != nil || len(a.rows) < 2 {
		return nil, err
	}
	t := &table{Caption: "Side by side, at rated power", Command: a.command,
		Head: []string{"Platform", "Duty", "Peak power", "Peak torque", "Drive ratio, best", "Worst", "Upshift, wide open", "Exhaust", "λ", "Vehicles", "Runs"}}
	for _, r := range a.rows {
		line := words(orUnnamed(r.text("platform")), r.text("duty"))
		for _, c := range []string{"peak_power_kw", "peak_torque_nm", "drive_ratio_best", "drive_ratio_worst", "shift_rpm_wide_open", "exhaust_gauge_kpa", "lambda_median"} {
			line = append(line, cell{Text: r.shown(c), Number: true})
		}
		line = append(line, cell{Text: r.text("vehicles"), Number: true}, cell{Text: r.text("runs"), Number: true})
		t.Rows = append(t.Rows, line)
	}
	t.shorten()
	return t, nil
}
