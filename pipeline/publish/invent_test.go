package publish

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dynolake/pipeline/lake"
	"dynolake/schema"
)

var noon = time.Date(2025, 6, 1, 12, 0, 0, 0, time.UTC)

// invent makes a run of arbitrary content; month 0 is a run without a time.
func invent(seed int, month time.Month, vehicle string) lake.Entry {
	nan := math.NaN()
	bytes := sha256.Sum256([]byte(fmt.Sprint("bytes", seed)))
	id := fmt.Sprintf("%016x", seed+0xabc)
	const rows = 50
	t, boost, gear := make([]float64, rows), make([]float64, rows), make([]float64, rows)
	for i := range t {
		t[i], boost[i], gear[i] = float64(i)/10, float64(seed*i)+0.25, float64(i%6)
		if i%7 == 3 {
			boost[i], gear[i] = nan, nan
		}
	}
	f := schema.NewFrame(t)
	f.Set("boost_kpa", boost)
	if seed%2 == 0 {
		f.Set("gear", gear)
	}
	d := schema.RunData{Frame: f, Run: schema.Run{ID: id, Vehicle: vehicle, Platform: "light-4", Calibration: "base", Test: "sweep", DurationS: 4.9,
		BaroKPa: 99.5, AmbientC: nan, HumidityPct: nan, IngestedAt: noon, EngineVersion: "test"}}
	if month > 0 {
		at := time.Date(2025, month, 3, seed%20, 0, 0, 0, time.UTC)
		d.Run.StartedAt = &at
	}
	d.Segments = []schema.Segment{{RunID: id, Kind: "pull", T1S: 4, MeanRPM: nan, Pull: &schema.Pull{Gear: 4, Locked: 1, RPMFrom: 1500, RPMTo: 4000,
		PeakPowerKW: 101, PeakTorqueNM: 300, ChargeStartC: nan, CoolantC: 90, TransC: nan, SinceLastS: nan}}}
	d.Curves = []schema.Curve{{RunID: id, Axis: "engine_speed_rpm", Bin: 1525, N: 3, Mean: map[string]float64{"boost_kpa": float64(seed)}}}
	d.Sources = []schema.SourceFile{{RunID: id, Source: fmt.Sprintf("log-%d.csv", seed), Form: "delimited", SHA256: hex.EncodeToString(bytes[:]), Bytes: 7, Rows: rows}}
	d.Unmapped = []schema.Unmapped{{RunID: id, Source: "log.csv", Name: "Mystery", Unit: "furlong", T: []float64{0, 0.5, 1}, Values: []float64{1.5, nan, 0}, Texts: map[int]string{1: "ERROR"}}}
	d.Findings = []schema.Finding{{RunID: id, Severity: schema.Note, Code: "shift", Text: "shifted", Value: 0.25, T0S: nan, T1S: nan}}
	return lake.Entry{RunData: d, Fingerprint: vehicle, Depends: "{}"}
}

// newLake makes an empty lake.
func newLake(t *testing.T) *lake.Lake {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "lake")
	if _, err := lake.Init(dir, nil); err != nil {
		t.Fatal(err)
	}
	return openLake(t, dir)
}

func openLake(t *testing.T, dir string) *lake.Lake {
	t.Helper()
	l, err := lake.Open(t.Context(), dir, lake.WithClock(func() time.Time { return noon }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	return l
}

// write does something under the lake's lock.
func write(t *testing.T, l *lake.Lake, do func(context.Context, *lake.Writer) error) {
	t.Helper()
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	if err := do(t.Context(), w); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// commit stores runs in one batch.
func commit(t *testing.T, l *lake.Lake, runs ...lake.Entry) {
	t.Helper()
	write(t, l, func(ctx context.Context, w *lake.Writer) error {
		for _, e := range runs {
			seed := strings.TrimSuffix(strings.TrimPrefix(e.Sources[0].Source, "log-"), ".csv")
			if _, err := w.Archive(ctx, strings.NewReader("bytes"+seed)); err != nil {
				return err
			}
		}
		return w.Commit(ctx, lake.Batch{Runs: runs})
	})
}

// refuse records a source that became no run.
func refuse(t *testing.T, l *lake.Lake) {
	t.Helper()
	write(t, l, func(ctx context.Context, w *lake.Writer) error {
		b, err := w.Archive(ctx, strings.NewReader("no log"))
		if err != nil {
			return err
		}
		f := schema.Finding{Source: "x.txt", Severity: schema.Rejected, Code: "no_form", Text: "no form fits", Value: math.NaN(), T0S: math.NaN(), T1S: math.NaN()}
		return w.Commit(ctx, lake.Batch{Loose: []lake.Refusal{{SHA256: b.SHA256, Findings: []schema.Finding{f}}}})
	})
}

// compactAll makes few files of many.
func compactAll(t *testing.T, l *lake.Lake) {
	t.Helper()
	write(t, l, func(ctx context.Context, w *lake.Writer) error {
		_, err := w.Compact(ctx, lake.Compaction{All: true})
		return err
	})
}

// stocked is a lake with runs of two months, one without a time and a refused source, in several commits.
func stocked(t *testing.T) *lake.Lake {
	t.Helper()
	l := newLake(t)
	commit(t, l, invent(1, 4, "van-b"), invent(2, 5, "van-a"))
	commit(t, l, invent(3, 0, "van-a"))
	refuse(t, l)
	return l
}

func options(form Form) Options {
	return Options{Form: form, Keep: time.Hour, Env: func(string) string { return "" }, Now: time.Now}
}

func publishTo(t *testing.T, l *lake.Lake, dest string, form Form) Report {
	t.Helper()
	r, err := Run(t.Context(), l, dest, options(form))
	if err != nil {
		t.Fatal(err)
	}
	return r
}
