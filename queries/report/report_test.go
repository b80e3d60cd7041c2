package report

import (
	"context"
	"errors"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"dynolake/queries/engine"
	"dynolake/queries/packs"
	"dynolake/queries/result"
)

// The session is opened once: rows given by hand are slow to store.
func TestReport(t *testing.T) {
	session := newShop().open(t, engine.Options{Limits: limits()})
	html := report(t, session, Input{})
	t.Run("answers", func(t *testing.T) { answers(t, plainText(html)) })
	t.Run("gain", func(t *testing.T) { gain(t, plainText(html)) })
	t.Run("safe and whole", func(t *testing.T) { safe(t, session) })
	t.Run("US units", func(t *testing.T) { us(t, session) })
	t.Run("news", func(t *testing.T) { news(t, session) })
	t.Run("goes on", func(t *testing.T) { goesOn(t, session) })
	t.Run("browser", func(t *testing.T) { browse(t, html) })
	t.Run("deterministic", func(t *testing.T) {
		turned := newShop()
		for _, r := range []*engine.Rows{&turned.runs, &turned.segments, &turned.curves} {
			slices.Reverse(r.Values)
		}
		if html != report(t, turned.open(t, engine.Options{Limits: limits(), Threads: 1}), Input{}) {
			t.Error("two orders of rows give two reports")
		}
	})
}

func answers(t *testing.T, text string) {
	for _, want := range []string{
		"40 runs with 32 pulls of 4 vehicles on 2 platforms, from 2026-01-02 to 2026-02-05 (UTC)",
		"Gain shown: first step over zero",
		"Last change: gain shown on 2 of 2 vehicles. First out of air:",
		// The parabola's top is 330 N·m at 2300 rpm, by the mean of four ripples of 0.1 %; the median of them is the same.
		"330.3 N·m at 2300 rpm (4 pulls); zero made",
		"first step first meets exhaust back pressure (limit 20 kPa)",
		"stays at or above 1.0 from",
		"the filter is",
		"Pedal 90 to 100 %: 1→2 at 3400",
		"dynolake query torque/delta --param platform=small",
		"dynolake query limits/margin",
		"can kill",
		"subject to local law",
		"by convention",
		"no clock",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	if strings.Contains(text, "Could not be answered") {
		t.Error("a query failed")
	}
	if t.Failed() {
		t.Logf("%.6000s", text)
	}
}

// A gain of 10 % of 300 N·m is told as what it is: +30 N·m near the top, with an interval that holds it.
func gain(t *testing.T, text string) {
	m := regexp.MustCompile(`car a : Gain shown: first step over zero, \+([\d.]+) N·m over the curve \(most \+([\d.]+) N·m at (\d+) rpm, 95 % ([\d.]+) to ([\d.]+)\); gain in (\d+) and loss in 0 of (\d+) speed bins`).FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("there is no such sentence in %.3000s", text)
	}
	if m[2] != "30.0" || m[3] < "2225" || m[3] > "2375" || m[6] != m[7] {
		t.Errorf("got %q", m)
	}
}

// Nothing that was typed becomes markup, and nothing is fetched.
func safe(t *testing.T, session *engine.Session) {
	html := report(t, session, Input{News: &News{Runs: []Run{{ID: "1", Vehicle: hostile, Calibration: "<u>", Test: "sweep"}}, Since: time.Unix(0, 0), SetAside: []Aside{{"<s>.csv", "no <s>time</s>\x1b[2J"}}}})
	for _, bad := range []string{"<script", "<img", "<u>", "<i>", "<s>", "<b>bad", "\x1b", "@import", "url(", "<link", "<iframe", "src="} {
		if strings.Contains(html, bad) && (bad != "src=" || strings.Contains(strings.ReplaceAll(html, "&lt;img src=x", ""), bad)) {
			t.Errorf("the report holds %q", bad)
		}
	}
	for _, m := range regexp.MustCompile(`(?:href|xmlns)="([^"]*)"`).FindAllStringSubmatch(html, -1) {
		if !strings.HasPrefix(m[1], "#") && m[1] != "http://www.w3.org/2000/svg" {
			t.Errorf("it refers to %q", m[1])
		}
	}
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(html, -1) {
		if ids[m[1]] {
			t.Errorf("the id %q stands twice", m[1])
		}
		ids[m[1]] = true
	}
	for _, m := range regexp.MustCompile(`href="#([^"]*)"`).FindAllStringSubmatch(html, -1) {
		if !ids[m[1]] {
			t.Errorf("a link leads to %q, which is nowhere", m[1])
		}
	}
}

func TestReportOfAnEmptyLake(t *testing.T) {
	text := plainText(report(t, (&shop{}).open(t, engine.Options{}), Input{}))
	if !strings.Contains(text, "The lake is empty") || !strings.Contains(text, "can kill") || strings.Contains(text, "Could not be answered") || strings.Contains(text, "Platforms") {
		t.Errorf("got %s", text)
	}
}

func us(t *testing.T, session *engine.Session) {
	text := plainText(report(t, session, Input{Units: result.US}))
	for _, want := range []string{"hp at", "lb-ft", "limit 2.9 psi", "--units us", "Wheel power (hp)"} { // 20 kPa are 2.90 psi by NIST SP 811.
		if !strings.Contains(text, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	if strings.Contains(text, " kW") || strings.Contains(text, "kPa;") {
		t.Error("some figures are still metric")
	}
}

func news(t *testing.T, session *engine.Session) {
	kinds := []string{"Limits passed", "Verdicts", "New runs", "Set aside"}
	text := plainText(report(t, session, Input{News: &News{
		Since:    time.Date(2026, 2, 3, 4, 5, 0, 0, time.UTC),
		Runs:     []Run{{ID: "00ff", Vehicle: "car a", Platform: "small", Calibration: "first step", Test: "sweep"}},
		Verdicts: []Verdict{{Vehicle: "car a", Base: "zero", Candidate: "first step", Quantity: "torque", Was: "no difference shown", Is: "gain"}},
		Passed:   []Passed{{Vehicle: "car a", Calibration: "first step", Quantity: "exhaust_gauge_kpa", Bound: 20, Worst: 24, Upper: true, PowerKW: 110}},
		SetAside: []Aside{{"bad.csv", "no time channel"}},
	}}))
	for _, want := range append(kinds, "Since the refresh of 2026-02-03 04:05 UTC", "car a, first step, sweep, without a time (run 00ff).", "car a, torque of first step over zero: gain (before: no difference shown).",
		"exhaust back pressure reached 24 kPa, beyond its limit of 20 kPa at 110 kW.", "bad.csv: no time channel") {
		if !strings.Contains(text, want) {
			t.Errorf("the report does not say %q in %.900s", want, text)
		}
	}
	text = plainText(report(t, session, Input{News: &News{Since: time.Unix(1, 0)}}))
	if !strings.Contains(text, "Nothing: no new runs") {
		t.Errorf("got %.900s", text)
	}
	for _, kind := range kinds {
		if strings.Contains(text, kind+" ") && kind != "Set aside" {
			t.Errorf("there is an empty list of %s", kind)
		}
	}
}

// A user's pack that fails, or a query that is not there, costs its own section.
func goesOn(t *testing.T, session *engine.Session) {
	set, err := packs.Load("")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range set.All() {
		if p.Name == "shift/by_pedal" {
			p.Pictures[0].X = "gone"
		}
	}
	var b strings.Builder
	if err := Write(t.Context(), &b, Input{Session: session, Packs: set}); err != nil {
		t.Fatal(err)
	}
	if text := plainText(b.String()); !strings.Contains(text, `Could not be answered: draw shift/by_pedal: its plot names the column "gone"`) || !strings.Contains(text, "Gain shown") {
		t.Errorf("got %.2000s", text)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := Write(ctx, io.Discard, Input{Session: session, Packs: set}); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled report gave %v", err)
	}
}

func TestQuote(t *testing.T) {
	for in, want := range map[string]string{"a-b=1.5": "a-b=1.5", "": "''", "it's": `'it'\''s'`, "a b": "'a b'", "$(x)": "'$(x)'"} {
		if got := quote(in); got != want {
			t.Errorf("%s: got %s, want %s", in, got, want)
		}
	}
}
