package lake

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"time"

	"dynolake/schema"
)

// Batch is what one commit stores, each part whole or not at all.
type Batch struct {
	Runs    []Entry
	Loose   []Refusal
	Retire  []string // Runs to take out of every table: their sources are another run's now. One that is not there is no error.
	Replace bool     // Store a run anew even when its fingerprint is the stored one.
}

// Entry is one run to store. A run of that id that is there with another fingerprint is replaced whole.
type Entry struct {
	schema.RunData
	Fingerprint string   // Of everything that the run's rows follow from: bytes, sheet, vehicle, dyno, mappings, program.
	Depends     string   // Text (JSON) that says of what the fingerprint is made; kept as it is.
	Blobs       []string // SHA-256 of archived bytes beside those of its sources: a sheet, the archive a member is from.
	Shared      []string // Of its blobs, those that hold other sources too: what is refused of these stays.
	Anew        bool     // Store it even when its fingerprint is the stored one.
}

// CheckError says what of a run cannot be stored.
type CheckError struct {
	RunID string
	What  string
}

func (e *CheckError) Error() string { return fmt.Sprintf("store run %s: %s", e.RunID, e.What) }

var runForm = regexp.MustCompile(`^[0-9a-f]{16}$`)

// Check reports, as a *CheckError, why a run cannot be stored: an id that is none, no rows, a time that does not rise, an
// infinite value, a column outside the catalogue, parts that name another run. Commit checks each run before it writes.
func Check(d schema.RunData) error {
	fail := func(format string, args ...any) error {
		return &CheckError{RunID: d.Run.ID, What: fmt.Sprintf(format, args...)}
	}
	if !runForm.MatchString(d.Run.ID) {
		return fail("its id is %q, want 16 hex digits", d.Run.ID)
	}
	if d.Frame == nil || d.Frame.Len() == 0 {
		return fail("it has no rows")
	}
	for i, t := range d.Frame.T {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			return fail("t_s in row %d is %v", i, t)
		}
		if i > 0 && t <= d.Frame.T[i-1] {
			return fail("t_s in row %d is %v, want more than the %v before it", i, t, d.Frame.T[i-1])
		}
	}
	for _, name := range d.Frame.Names() {
		c, ok := schema.Lookup(name)
		if !ok {
			return fail("column %q is not in the catalogue", name)
		}
		if i, ok := unfit(c, d.Frame.Column(name)); ok {
			return fail("%s in row %d is %v, which type %s does not hold", name, i, d.Frame.Column(name)[i], c.Type)
		}
	}
	if id, ok := stranger(d); ok {
		return fail("a part of it names run %q", id)
	}
	for _, s := range d.Sources {
		if !sha256Form.MatchString(s.SHA256) {
			return fail("source %q has SHA-256 %q, want 64 hex digits", s.Source, s.SHA256)
		}
	}
	return checkNumbers(d, fail)
}

// unfit finds a value that a column's type cannot hold.
func unfit(c schema.Column, values []float64) (int, bool) {
	for i, v := range values {
		switch {
		case math.IsNaN(v):
		case math.IsInf(v, 0),
			c.Type == "float32" && math.Abs(v) > math.MaxFloat32,
			c.Type == "int32" && math.Abs(v) > math.MaxInt32,
			c.Type == "enum" && (v != math.Trunc(v) || v < 0 || int(v) >= len(c.Values)):
			return i, true
		}
	}
	return 0, false
}

// stranger finds a part of another run; a part without a run id is taken to be this one's.
func stranger(d schema.RunData) (string, bool) {
	var ids []string
	for _, s := range d.Segments {
		ids = append(ids, s.RunID)
	}
	for _, c := range d.Curves {
		ids = append(ids, c.RunID)
	}
	for _, s := range d.Sources {
		ids = append(ids, s.RunID)
	}
	for _, u := range d.Unmapped {
		ids = append(ids, u.RunID)
	}
	for _, f := range d.Findings {
		ids = append(ids, f.RunID)
	}
	for _, id := range ids {
		if id != "" && id != d.Run.ID {
			return id, true
		}
	}
	return "", false
}

// checkNumbers looks at every number of the small tables as it would be stored.
func checkNumbers(d schema.RunData, fail func(string, ...any) error) error {
	at := time.Unix(0, 0)
	if soundCurves(d.Curves) {
		d.Curves = nil // Laying them all out takes longer than all else here; only the words of an error need it.
	}
	for _, s := range smallSheets([]schema.RunData{d}, nil, at) {
		if name, ok := s.unknown(); ok {
			return fail("%s.%s is no column of the lake", s.table.Name, name)
		}
		for i := range s.rows {
			for _, c := range s.columns {
				if v, ok := infinite(s.cell(i, c.Name), c.Type); ok {
					return fail("%s.%s is %v, which %s does not hold", s.table.Name, c.Name, v, c.Type)
				}
			}
		}
	}
	return nil
}

// soundCurves reports whether every number of the curves is one that its column holds.
func soundCurves(curves []schema.Curve) bool {
	table, _ := schema.LookupTable("curves")
	types := map[string]string{}
	for _, c := range table.Columns {
		types[c.Name] = c.Type
	}
	var kinds [3]map[string]string // Of means, p05 and p95, by the name without its ending.
	for i, ending := range []string{"", "_p05", "_p95"} {
		kinds[i] = map[string]string{}
		for name, kind := range types {
			if of, cut := strings.CutSuffix(name, ending); cut {
				kinds[i][of] = kind
			}
		}
	}
	for _, c := range curves {
		if _, bad := infinite(c.Bin, types["bin"]); bad {
			return false
		}
		for i, values := range [...]map[string]float64{c.Mean, c.P05, c.P95} {
			for name, v := range values {
				if kind, known := kinds[i][name]; !known || (v > math.MaxInt32 || v < -math.MaxInt32) && outside(v, kind) {
					return false
				}
			}
		}
	}
	return true
}
