package mdf4

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"dynolake/schema"
)

// mostAlike is how many findings of one code are passed on one by one.
const mostAlike = 200

// report passes findings on and counts what is said once.
type report struct {
	name   string
	sink   schema.Sink
	codes  map[string]int
	counts map[counted]*count
	order  []counted
}

type counted struct{ code, channel string }

type count struct {
	n        int
	first    error
	severity schema.Severity
	text     string
}

func newReport(name string, sink schema.Sink) *report {
	return &report{name: name, sink: sink, codes: map[string]int{}, counts: map[counted]*count{}}
}

func (r *report) find(sev schema.Severity, code, channel string, value float64, unit, text string) {
	if r.codes[code]++; r.codes[code] > mostAlike {
		return
	}
	nan := math.NaN()
	r.sink.Find(schema.Finding{Source: r.name, Severity: sev, Code: code, Channel: channel, Text: r.name + ": " + text, Value: value, Unit: unit, T0S: nan, T1S: nan})
}

func (r *report) say(code, channel, format string, args ...any) {
	r.find(schema.Note, code, channel, math.NaN(), "", fmt.Sprintf(format, args...))
}

func (r *report) doubt(code, channel, format string, args ...any) {
	r.find(schema.Doubt, code, channel, math.NaN(), "", fmt.Sprintf(format, args...))
}

func (r *report) reject(code, format string, args ...any) {
	r.find(schema.Rejected, code, "", math.NaN(), "", fmt.Sprintf(format, args...))
}

// count adds n to what is said at the end: text holds one %d, and first the first of them where that helps.
func (r *report) count(sev schema.Severity, code, channel string, n int, first error, text string) {
	k := counted{code, channel}
	c := r.counts[k]
	if c == nil {
		c = &count{first: first, severity: sev, text: text}
		r.counts[k] = c
		r.order = append(r.order, k)
	}
	c.n += n
}

// close passes the counts on.
func (r *report) close() {
	for _, k := range r.order {
		c := r.counts[k]
		text := fmt.Sprintf(c.text, c.n)
		if c.first != nil {
			text += ": the first because of " + c.first.Error()
		}
		r.find(c.severity, k.code, k.channel, float64(c.n), "rows", text)
	}
	for _, code := range slices.Sorted(maps.Keys(r.codes)) {
		if n := r.codes[code]; n > mostAlike {
			r.codes[code] = 0
			r.find(schema.Doubt, code, "", float64(n-mostAlike), "findings", fmt.Sprintf("%d more findings of this kind", n-mostAlike))
		}
	}
}
