package demo

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// entry is what the technicians wrote about one run.
type entry struct {
	plan  plan
	files []string
	stamp bool // The log has date and zone itself, so the sheet leaves the time open.
}

var sheetFields = [...]string{"note", "files", "vehicle", "calibration", "hardware", "test", "started_at", "dyno", "gear", "baro", "ambient", "humidity", "standard"}

// fields are the entry's values in the order of sheetFields.
func (e entry) fields() []string {
	p := e.plan
	road := p.kind == "road" || p.kind == "coast"
	started, bench, gear, standard := p.start.Format(time.RFC3339), p.v.bench.id, strconv.Itoa(p.v.drive.pullGear), "none"
	if e.stamp {
		started = ""
	}
	if road {
		bench, gear = "", ""
	}
	if p.v.duty == "light" && !road {
		standard = "iso1585-1992"
	}
	return []string{
		e.note(), strings.Join(e.files, ";"), p.v.id, p.calibration().name, "invented turbo, standard injectors", p.kind, started, bench, gear,
		fmt.Sprintf("%.2f kPa", p.day.baro), fmt.Sprintf("%.1f °C", p.day.ambient), fmt.Sprintf("%.0f %%", p.day.humidity), standard,
	}
}

func (e entry) note() string {
	what := map[string]string{
		"sweep": "three full-load pulls", "other": "filter regenerated at part load", "steps": "full load held at six speeds", "coast": "roll out in neutral", "road": "full load through third and fourth",
	}[e.plan.kind]
	if e.plan.kind == "sweep" && len(e.plan.gains) == 1 {
		what = "weekly check, one full-load pull"
	}
	if len(e.plan.pedals) > 0 {
		what = fmt.Sprintf("off the line at %.0f, %.0f and %.0f %% pedal", e.plan.pedals[0], e.plan.pedals[1], e.plan.pedals[2])
	}
	return "INVENTED demo run, no real vehicle: " + what
}

// runsCSV is a folder's sheet.
func runsCSV(entries []entry) (string, error) {
	var b strings.Builder
	w := csv.NewWriter(&b)
	rows := [][]string{sheetFields[:]}
	for _, e := range entries {
		rows = append(rows, e.fields())
	}
	if err := w.WriteAll(rows); err != nil {
		return "", fmt.Errorf("write run sheet: %w", err)
	}
	return b.String(), nil
}

// runYAML is the sheet beside one log.
func (e entry) runYAML() string {
	var b strings.Builder
	b.WriteString("# " + label + ".\n")
	for i, v := range e.fields() {
		switch {
		case v == "":
		case sheetFields[i] == "files":
			fmt.Fprintf(&b, "files: [%s]\n", strings.ReplaceAll(v, ";", ", "))
		default:
			fmt.Fprintf(&b, "%s: %q\n", sheetFields[i], v)
		}
	}
	return b.String()
}
