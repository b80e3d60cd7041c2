package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

// owner is an entry that has a file, or one member of it.
type owner struct {
	member string
	row    *row
}

// claims gives each file to one entry.
type claims struct {
	owners map[string][]owner // By absolute path.
	naming map[string][]*row  // Entries that name a path, nearest first.
	order  []*row             // Entries in the order in which they took their files.
	done   map[*row]bool      // Entries that took theirs, or went into a nearer one as a whole.
}

func newClaims(rows []*row) *claims {
	c := &claims{owners: map[string][]owner{}, naming: map[string][]*row{}, done: map[*row]bool{}}
	for _, r := range rows {
		for _, f := range r.files {
			c.naming[f.key] = append(c.naming[f.key], r)
		}
	}
	return c
}

// take gives an entry those of its files that no nearer entry has. Entries come nearest first.
func (c *claims) take(r *row) {
	if c.done[r] {
		return
	}
	c.done[r] = true
	if r.implicit && len(r.faults) == 0 {
		c.widen(r)
	}
	var kept []File
	var lost []*row
	for _, f := range r.files {
		held := c.owner(f)
		switch held {
		case nil:
			kept = append(kept, f)
			c.owners[f.key] = append(c.owners[f.key], owner{f.Member, r})
		case r:
			r.find(schema.Note, "source_named_twice", "", fmt.Sprintf("%s: %s is named twice; it is read once", r.at, f.Name))
		default:
			held.clash(r, f)
			if !slices.Contains(lost, held) {
				lost = append(lost, held)
			}
		}
	}
	if len(kept) == 0 && len(lost) == 1 && len(r.faults) == 0 {
		lost[0].sheet = fillFrom(lost[0], r)
	}
	r.files = kept
	c.order = append(c.order, r)
}

// owner finds the entry that has a file. The whole of a file and a member of it overlap.
func (c *claims) owner(f File) *row {
	for _, o := range c.owners[f.key] {
		if o.member == f.Member || o.member == "" || f.Member == "" {
			return o.row
		}
	}
	return nil
}

// widen lets a NAME.run.yaml, which speaks of one log, keep the log's fellows that a runs.csv gives it.
func (c *claims) widen(r *row) {
	var other *row
	for _, f := range r.files {
		for _, o := range c.naming[f.key] {
			if other == nil && !o.implicit && !c.done[o] {
				other = o
			}
		}
	}
	if other == nil {
		return
	}
	c.done[other] = true
	r.clash(other, other.files[0])
	r.sheet = fillFrom(r, other)
	for _, f := range other.files {
		if !slices.ContainsFunc(r.files, func(g File) bool { return f.key == g.key }) {
			r.files = append(r.files, f)
		}
	}
	r.faults = append(r.faults, other.faults...)
}

func fillFrom(r, other *row) schema.Sheet {
	origin := r.sheet.Origin
	s := Fill(r.sheet, other.sheet)
	s.Origin = origin
	return s
}

// clash tells that another, farther entry names a file of r, and where the two differ.
func (r *row) clash(other *row, f File) {
	var differ []string
	for _, d := range []struct{ name, a, b string }{
		{"vehicle", r.sheet.Vehicle, other.sheet.Vehicle}, {"calibration", r.sheet.Calibration, other.sheet.Calibration}, {"hardware", r.sheet.Hardware, other.sheet.Hardware},
		{"test", r.sheet.Test, other.sheet.Test}, {"started_at", r.sheet.StartedAt, other.sheet.StartedAt}, {"dyno", r.sheet.Dyno, other.sheet.Dyno},
		{"gear", text(r.sheet.Gear), text(other.sheet.Gear)}, {"baro", text(r.sheet.BaroKPa), text(other.sheet.BaroKPa)}, {"ambient", text(r.sheet.AmbientC), text(other.sheet.AmbientC)},
		{"humidity", text(r.sheet.HumidityPct), text(other.sheet.HumidityPct)}, {"dew_point", text(r.sheet.DewPointC), text(other.sheet.DewPointC)},
		{"wet_bulb", text(r.sheet.WetBulbC), text(other.sheet.WetBulbC)}, {"zero", r.sheet.Zero, other.sheet.Zero}, {"standard", r.sheet.Standard, other.sheet.Standard},
	} {
		if d.a != "" && d.b != "" && d.a != d.b {
			differ = append(differ, fmt.Sprintf("%s %q against %q", d.name, d.a, d.b))
		}
	}
	severity, what := schema.Note, "; they do not contradict each other"
	if len(differ) > 0 {
		severity, what = schema.Doubt, "; they differ in "+strings.Join(differ, ", ")
	}
	r.find(severity, "sheet_conflict", "", fmt.Sprintf("%s is named by %s and by %s; the first, nearer or earlier one wins%s", f.Name, r.at, other.at, what))
}

func text(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	return fmt.Sprint(x)
}
