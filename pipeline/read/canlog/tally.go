package canlog

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dynolake/schema"
)

// mostIDs bounds the ids that are counted one by one, mostNamed those that a finding names.
const (
	mostIDs   = 8192
	mostNamed = 200
)

// reason is what was passed over and why.
type reason struct {
	code     string
	severity schema.Severity
	text     string // Behind the count: "12 lines: …".
	unit     string
}

// The reasons, in the order of their findings.
var reasons = []reason{
	{"cut_or_foreign_line", schema.Doubt, "no candump frame, or cut: passed over", "lines"},
	{"length_mismatch", schema.Doubt, "another length stated than there are bytes: passed over", "lines"},
	{"line_too_long", schema.Doubt, "longer than any frame: passed over", "lines"},
	{"frame_without_time", schema.Doubt, "without a time, or with one of another form than the first: passed over", "frames"},
	{"too_many_buses", schema.Doubt, "of more than 64 buses: passed over", "frames"},
	{"error_frames", schema.Note, "reporting errors of the bus", "frames"},
	{"remote_frames", schema.Note, "asking for data", "frames"},
	{"can_requests", schema.Note, "requests or flow control", "frames"},
	{"can_unknown", schema.Note, "in no database and no built-in table: they stay in the archive; to read them add a DBC file to config/can or beside the log", "frames"},
	{"obd_other_service", schema.Note, "diagnostic, of other services than 01 and 02", "answers"},
	{"obd_refused", schema.Note, "by which a control unit refuses a request", "answers"},
	{"obd_unknown_pid", schema.Note, "with a PID that is not in the table or is cut; what stands behind it was not read", "answers"},
	{"message_broken", schema.Doubt, "over several frames are not whole (a lost or doubled frame): not read", "messages"},
	{"message_malformed", schema.Doubt, "of longer messages fit none, or state lengths that do not match", "frames"},
	{"too_many_groups", schema.Doubt, "of more than 4096 messages and sources: passed over", "frames"},
}

// tally counts what is told in the end.
type tally struct {
	source string
	counts map[string]*count
	ids    int
	other  []schema.Finding
	once   map[string]bool
}

type count struct {
	n     int
	first string
	by    map[string]int // Counts by id or the like; nil where there are none.
	rest  int            // Of ids beyond mostIDs.
}

func newTally(source string) *tally {
	return &tally{source: source, counts: map[string]*count{}, once: map[string]bool{}}
}

func (t *tally) of(code string) *count {
	c := t.counts[code]
	if c == nil {
		c = &count{by: map[string]int{}}
		t.counts[code] = c
	}
	return c
}

// add counts one, with what was found at first.
func (t *tally) add(code, first string) {
	c := t.of(code)
	if c.n++; c.n == 1 {
		c.first = first
	}
}

// by counts n of one kind.
func (t *tally) by(code, what string, n int) {
	c := t.of(code)
	c.n += n
	if _, ok := c.by[what]; !ok {
		if t.ids >= mostIDs {
			c.rest += n
			return
		}
		t.ids++
	}
	c.by[what] += n
}

// tell keeps a finding, once a key.
func (t *tally) tell(key string, f schema.Finding) {
	if t.once[key] || len(t.once) > mostIDs {
		return
	}
	t.once[key] = true
	t.other = append(t.other, f)
}

func (t *tally) finding(severity schema.Severity, code, channel string, value float64, unit, format string, args ...any) schema.Finding {
	nan := math.NaN()
	return schema.Finding{Source: t.source, Severity: severity, Code: code, Channel: channel, Text: fmt.Sprintf(format, args...), Value: value, Unit: unit, T0S: nan, T1S: nan}
}

// close gives every finding to the sink.
func (t *tally) close(sink schema.Sink) {
	for _, r := range reasons {
		c := t.counts[r.code]
		if c == nil || c.n == 0 {
			continue
		}
		text := fmt.Sprintf("%d %s: %s", c.n, plural(c.n, r.unit), r.text)
		if c.first != "" {
			text += "; first " + c.first
		}
		if list := c.list(); list != "" {
			text += ": " + list
		}
		sink.Find(t.finding(r.severity, r.code, "", float64(c.n), r.unit, "%s", text))
	}
	for _, f := range t.other {
		sink.Find(f)
	}
}

func plural(n int, unit string) string {
	if n == 1 {
		return strings.TrimSuffix(unit, "s")
	}
	return unit
}

// list names the kinds with their counts, the most frequent first.
func (c *count) list() string {
	type kind struct {
		what string
		n    int
	}
	kinds := make([]kind, 0, len(c.by))
	for what, n := range c.by {
		kinds = append(kinds, kind{what, n})
	}
	slices.SortFunc(kinds, func(a, b kind) int {
		if a.n != b.n {
			return b.n - a.n
		}
		return strings.Compare(a.what, b.what)
	})
	var parts []string
	left, more := c.rest, 0
	for i, k := range kinds {
		if i < mostNamed {
			parts = append(parts, fmt.Sprintf("%s ×%d", k.what, k.n))
		} else {
			left, more = left+k.n, more+1
		}
	}
	if left > 0 {
		parts = append(parts, fmt.Sprintf("and %d of %d more", left, more))
	}
	return strings.Join(parts, ", ")
}
