package lake

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"dynolake/schema"
)

func clean(t testing.TB, l *Lake) {
	t.Helper()
	problems, err := l.Verify(t.Context(), Checks{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		if !p.Note {
			t.Errorf("verify: %s", p)
		}
	}
}

// spotless asks for a lake without even a left-over.
func spotless(t testing.TB, l *Lake) {
	t.Helper()
	problems, err := l.Verify(t.Context(), Checks{})
	if err != nil || len(problems) > 0 {
		t.Errorf("verify: %v, %v", problems, err)
	}
}

func TestCommitTwiceChangesNothing(t *testing.T) {
	l := newTestLake(t)
	refused := Refusal{SHA256: fmt.Sprintf("%x", sha("bytes9")), Findings: []schema.Finding{{Source: "bad.csv", Severity: schema.Rejected, Code: "no_clock", Text: "no time channel"}}}
	b := Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a"), entry(9, 5, "a")}[:2], Loose: []Refusal{refused}}
	archive(t, l, "bytes9")
	commitAll(t, l, b)
	before, rows := snapshot(t, l), dump(t, l)
	commitAll(t, l, b)
	commitAll(t, l, Batch{Runs: []Entry{b.Runs[1]}, Loose: []Refusal{refused}})
	if d := cmp.Diff(before, snapshot(t, l)); d != "" {
		t.Errorf("the snapshot changed:\n%s", d)
	}
	if d := cmp.Diff(rows, dump(t, l)); d != "" {
		t.Errorf("rows changed:\n%s", d)
	}
	spotless(t, l)
}

func archive(t testing.TB, l *Lake, text string) Blob {
	t.Helper()
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	b, err := w.Archive(t.Context(), strings.NewReader(text))
	if err = errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	return b
}

func snapshot(t testing.TB, l *Lake) schema.Snapshot {
	t.Helper()
	s, err := l.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestOrderOfCommitsChangesNoRow(t *testing.T) {
	var want map[string][]string
	for _, batches := range [][][]uint64{{{1, 2, 3}, {4, 5}}, {{5}, {3, 1}, {4}, {2}}, {{4, 2, 1, 5, 3}}} {
		l := newTestLake(t)
		for _, seeds := range batches {
			var b Batch
			for _, s := range seeds {
				b.Runs = append(b.Runs, entry(s, 30, "a"))
			}
			commitAll(t, l, b)
		}
		got := dump(t, l)
		if want == nil {
			want = got
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%v: %s", batches, d)
		}
		spotless(t, l)
	}
}

// A run with another fingerprint takes the place of the stored one in every table, and the runs that shared its files
// stay as they were.
func TestReplaceRun(t *testing.T) {
	l := newTestLake(t)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a"), entry(3, 20, "a")}})
	changed := entry(2, 33, "b")
	changed.Run.Calibration = "step-2"
	changed.Segments = changed.Segments[:1]
	changed.Findings, changed.Unmapped = nil, nil
	commitAll(t, l, Batch{Runs: []Entry{changed}})

	fresh := newTestLake(t)
	commitAll(t, fresh, Batch{Runs: []Entry{changed, entry(1, 20, "a"), entry(3, 20, "a")}})
	if d := cmp.Diff(dump(t, fresh), dump(t, l)); d != "" {
		t.Errorf("a replaced run leaves other rows than a lake that never held it:\n%s", d)
	}
	runs, err := l.Runs(t.Context())
	if err != nil || runs[changed.Run.ID].Fingerprint != "b" || runs[changed.Run.ID].Depends != `{"vehicle":"van-2"}` || len(runs) != 3 {
		t.Errorf("runs: %v, %v", runs, err)
	}
	spotless(t, l)
	commitAll(t, l, Batch{Runs: []Entry{changed}, Replace: true})
	if d := cmp.Diff(dump(t, fresh), dump(t, l)); d != "" {
		t.Errorf("after replacing with the same:\n%s", d)
	}
	spotless(t, l)
}

// What is said of refused bytes is replaced when something else is to be said, and goes when they become a run.
func TestRefusals(t *testing.T) {
	l := newTestLake(t)
	e := entry(1, 20, "a")
	for _, text := range []string{"bytes1", "bytes2"} {
		archive(t, l, text)
	}
	say := func(seed, text string) Refusal {
		return Refusal{SHA256: fmt.Sprintf("%x", sha("bytes"+seed)), Findings: []schema.Finding{{Source: "log.csv", Severity: schema.Rejected, Code: "unread", Text: text}}}
	}
	renamed := say("2", "other")
	renamed.Findings[0].Source = "copy/of/log.csv"
	for _, step := range []struct {
		b    Batch
		want []string
	}{
		{Batch{Loose: []Refusal{say("1", "first"), say("2", "other")}}, []string{"first", "other"}},
		{Batch{Loose: []Refusal{say("1", "second")}}, []string{"other", "second"}},
		{Batch{Loose: []Refusal{say("1", "second"), renamed, renamed}}, []string{"other", "second"}},
		{Batch{Runs: []Entry{e}}, []string{"other", "shifted"}},
	} {
		commitAll(t, l, step.b)
		rows := dump(t, l)["findings"]
		if len(rows) != len(step.want) {
			t.Fatalf("findings: %q, want %q", rows, step.want)
		}
		for _, text := range step.want {
			if !strings.Contains(strings.Join(rows, "\n"), "|"+text+"|") {
				t.Errorf("findings: %q, want %q", rows, step.want)
			}
		}
		spotless(t, l)
	}
	refused, err := l.Refused(t.Context())
	if err != nil || len(refused) != 1 {
		t.Errorf("refused: %v, %v", refused, err)
	}
}

func TestCheckRefuses(t *testing.T) {
	for want, spoil := range map[string]func(*schema.RunData){
		"16 hex digits":        func(d *schema.RunData) { d.Run.ID = "run-1" },
		"no rows":              func(d *schema.RunData) { d.Frame = schema.NewFrame(nil) },
		"t_s in row 3":         func(d *schema.RunData) { d.Frame.T[3] = d.Frame.T[2] },
		"map_kpa in row 2":     func(d *schema.RunData) { d.Frame.Set("map_kpa", fill(2, math.Inf(1))) },
		"oil_c in row 4":       func(d *schema.RunData) { d.Frame.Set("oil_c", fill(4, 1e300)) },
		"drive_basis in row 1": func(d *schema.RunData) { d.Frame.Set("drive_basis", fill(1, 0.5)) },
		`column "mystery"`:     func(d *schema.RunData) { d.Frame.Set("mystery", fill(1, 1)) },
		"names run":            func(d *schema.RunData) { d.Curves[0].RunID = "0000000000000000" },
		"64 hex digits":        func(d *schema.RunData) { d.Sources[0].SHA256 = "" },
		"curves.mystery":       func(d *schema.RunData) { d.Curves[0].Mean["mystery"] = 1 },
		"segments.rpm_to":      func(d *schema.RunData) { d.Segments[0].Pull.RPMTo = math.Inf(-1) },
	} {
		l := newTestLake(t)
		bad := entry(2, 20, "a")
		spoil(&bad.RunData)
		w, err := l.Write(t.Context(), "test")
		if err != nil {
			t.Fatal(err)
		}
		err = archiveAndCommit(t.Context(), w, Batch{Runs: []Entry{entry(1, 20, "a"), bad}})
		var check *CheckError
		if !errors.As(err, &check) || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
		if err := w.Close(); err != nil {
			t.Error(err)
		}
		if s := snapshot(t, l); s.ID != 0 {
			t.Errorf("%s: the lake changed: %v", want, s)
		}
		clean(t, l)
	}
}

// fill makes a column of 20 rows with one value in it.
func fill(at int, v float64) []float64 {
	list := schema.Missing(20)
	list[at] = v
	return list
}

// A gear logged with fractions is rounded, and the lake says so.
func TestRoundingIsSaid(t *testing.T) {
	l := newTestLake(t)
	e := entry(1, 20, "a")
	e.Frame.Set("gear", fill(5, 2.6))
	commitAll(t, l, Batch{Runs: []Entry{e}})
	if rows := strings.Join(dump(t, l)["findings"], "\n"); !strings.Contains(rows, "rounded_to_whole|gear|1 values") {
		t.Errorf("findings: %s", rows)
	}
}

// Superseded files outlive the commit that supersedes them by the grace period, and no longer.
func TestSupersededFilesWaitForReaders(t *testing.T) {
	now := noon
	l := newTestLake(t, WithClock(func() time.Time { return now }), WithGrace(time.Minute))
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 20, "a"), entry(2, 20, "a")}})
	old := snapshot(t, l)
	commitAll(t, l, Batch{Runs: []Entry{entry(1, 25, "b")}})
	there := func() int {
		n := 0
		for _, list := range old.Files {
			for _, f := range list {
				if _, err := os.Stat(filepath.Join(old.Root, f)); err == nil {
					n++
				}
			}
		}
		return n
	}
	all := there()
	now = now.Add(30 * time.Second)
	commitAll(t, l, Batch{Runs: []Entry{entry(3, 20, "a")}})
	if n := there(); n != all || n != 8 {
		t.Errorf("%d of %d files of a snapshot in use are left", n, all)
	}
	now = now.Add(time.Hour)
	commitAll(t, l, Batch{Runs: []Entry{entry(4, 20, "a")}})
	if n := there(); n != 1 { // The samples of the run that stayed.
		t.Errorf("%d superseded files are left after the grace period, want 1 live one", n)
	}
	spotless(t, l)
}

// Bytes that are no text and numbers that are infinite are kept in a form that no reader chokes on.
func TestOddContentStaysReadable(t *testing.T) {
	l := newTestLake(t)
	e := entry(1, 20, "a")
	e.Unmapped = []schema.Unmapped{{Source: "log.csv", Name: "Druck \xb0", T: []float64{0, 1}, Values: []float64{math.Inf(1), 2}}}
	e.Run.OperatorNote = "a|b\nc\x00d"
	commitAll(t, l, Batch{Runs: []Entry{e}})
	want := e.Run.ID + "|log.csv|~|Druck \uFFFD|~|[0.0, 1.0]|[NULL, 2.0]|[+Inf, NULL]"
	if got := dump(t, l)["unmapped"]; len(got) != 1 || got[0] != want {
		t.Errorf("got %q, want %q", got, want)
	}
	spotless(t, l)
}
