package readtest

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"dynolake/schema"
)

// Dump writes what a reader found, for people and for comparison: notes, groups with their clocks and channels, rows in full
// up to twelve of a group, else the first and last three, and findings.
func Dump(logs []schema.Log) string {
	var b strings.Builder
	for _, l := range logs {
		fmt.Fprintf(&b, "part %d\n", l.Part)
		if l.Part == 0 {
			for _, n := range l.Notes {
				fmt.Fprintf(&b, "note %q %q\n", n[0], n[1])
			}
		}
		for _, s := range l.Series {
			dumpSeries(&b, s)
		}
		for _, f := range l.Findings {
			fmt.Fprintf(&b, "finding %s %s %s %s\n\t%s\n", f.Severity, f.Code, number(f.Value), f.Unit, f.Text)
		}
	}
	return b.String()
}

func dumpSeries(b *strings.Builder, s schema.Series) {
	c := s.Clock
	fmt.Fprintf(b, "group %q clock %q unit %q step %s", s.Name, c.Name, c.Unit, number(c.Step))
	if !c.Start.IsZero() {
		fmt.Fprintf(b, " start %s zoned %v", c.Start.Format(time.RFC3339Nano), c.Zoned)
	}
	b.WriteString("\n")
	for _, ch := range s.Channels {
		fmt.Fprintf(b, "\tchannel %q unit %q", ch.Name, ch.Unit)
		if ch.Comment != "" {
			fmt.Fprintf(b, " comment %q", ch.Comment)
		}
		b.WriteString("\n")
	}
	texts := map[[2]int]string{}
	for _, t := range s.Texts {
		texts[[2]int{t.Row, t.Channel}] = t.Text
	}
	for i, t := range s.T {
		if n := len(s.T); n > 12 && i == 3 {
			fmt.Fprintf(b, "\t… %d rows\n", n-6)
		}
		if n := len(s.T); n > 12 && i >= 3 && i < n-3 {
			continue
		}
		fmt.Fprintf(b, "\t%s:", number(t))
		for j := range s.Values {
			if text, ok := texts[[2]int{i, j}]; ok {
				fmt.Fprintf(b, " %q", text)
			} else {
				b.WriteString(" " + number(s.Values[j][i]))
			}
		}
		b.WriteString("\n")
	}
}

func number(v float64) string {
	if math.IsNaN(v) {
		return "·"
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}
