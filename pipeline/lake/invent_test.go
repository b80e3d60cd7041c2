package lake

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dynolake/schema"
)

// noon is the clock of these tests.
var noon = time.Date(2025, 6, 1, 12, 0, 0, 0, time.UTC)

// invent makes a run of arbitrary content from a seed, with gaps, states, zeros and halves in it.
func invent(seed uint64, rows int) schema.RunData {
	r := rand.New(rand.NewPCG(seed, 7))
	id := fmt.Sprintf("%016x", sha(fmt.Sprint("run", seed)))[:16]
	maybe := func(v float64) float64 {
		if r.IntN(4) == 0 {
			return math.NaN()
		}
		return v
	}
	t := make([]float64, rows)
	for i := range t {
		t[i] = float64(i) / 8
	}
	f := schema.NewFrame(t)
	for _, c := range schema.Columns() {
		if c.Name == "t_s" || r.IntN(3) == 0 {
			continue
		}
		v := schema.Missing(rows)
		for i := range v {
			switch c.Type {
			case "enum":
				v[i] = maybe(float64(r.IntN(len(c.Values))))
			case "int32":
				v[i] = maybe(float64(r.IntN(8)))
			default:
				v[i] = maybe([]float64{0, 1.5, r.NormFloat64() * 100}[r.IntN(3)])
			}
		}
		f.Set(c.Name, v)
	}
	r = rand.New(rand.NewPCG(seed, 14)) // What follows is the same whatever columns the catalogue has.
	started := noon.Add(-time.Duration(r.IntN(100*24)) * time.Hour)
	d := schema.RunData{Run: schema.Run{ID: id, Vehicle: fmt.Sprintf("van-%d", seed%5), Platform: "light-4", Duty: "light", Calibration: "base",
		Test: "sweep", StartedAt: &started, DurationS: t[rows-1], Rows: int64(rows), Standard: "none", BaroKPa: maybe(99.5), AmbientC: 0,
		HumidityPct: math.NaN(), IngestedAt: noon, EngineVersion: "test"}, Frame: f}
	if seed%7 == 3 {
		d.Run.StartedAt = nil
	}
	nan := math.NaN()
	d.Segments = []schema.Segment{
		{RunID: id, ID: 0, Kind: "pull", T0S: 0, T1S: 1.5, Pull: &schema.Pull{Gear: 4, Locked: nan, RPMFrom: 1500, RPMTo: 4000, PeakPowerKW: 101.25,
			PeakTorqueNM: maybe(300), ChargeStartC: 0, CoolantC: nan, TransC: nan, SinceLastS: nan, Flagged: "cold"}},
		{RunID: id, ID: 1, Kind: "shift", T0S: 2, T1S: 2.5, Shift: &schema.Shift{FromGear: 2, ToGear: 3, EngineSpeedRPM: 2800, PedalPct: nan, Locked: 0}},
		{RunID: id, ID: 2, Kind: "idle", T0S: 3, T1S: 4, MeanRPM: 800},
	}
	for b := range 5 {
		d.Curves = append(d.Curves, schema.Curve{RunID: id, SegmentID: 0, Axis: "engine_speed_rpm", Bin: 1525 + 50*float64(b), N: 3,
			Mean: map[string]float64{"wheel_power_kw": float64(b) + 0.5, "gear": 3.5, "drive_basis": float64(b % 2), "drive_ratio": maybe(1.25)},
			P05:  map[string]float64{"drive_ratio": 1}, P95: map[string]float64{"drive_ratio": 2}})
	}
	d.Sources = []schema.SourceFile{{RunID: id, Source: fmt.Sprintf("log-%d.csv", seed), Form: "delimited", SHA256: hex.EncodeToString(sha(fmt.Sprint("bytes", seed))),
		Bytes: int64(len(fmt.Sprint("bytes", seed))), Rows: int64(rows), Channels: 12, FirstTime: 18.5, LastTime: 99, ShiftS: 0}}
	d.Unmapped = []schema.Unmapped{
		{RunID: id, Source: "log.csv", Name: "Mystery", Unit: "furlong", T: []float64{0, 0.5, 1}, Values: []float64{1.5, nan, 0}, Texts: map[int]string{1: "ERROR"}},
		{RunID: id, Source: "log.csv", Name: "Plain", T: []float64{0, 1}, Values: []float64{2, 3}},
		{RunID: id, Source: "log.csv", Name: "Empty"},
	}
	d.Findings = []schema.Finding{{RunID: id, Source: "log.csv", Severity: schema.Note, Code: "shift", Text: "shifted", Value: 0.25, Unit: "s", T0S: nan, T1S: nan}}
	return d
}

func sha(text string) []byte {
	s := sha256.Sum256([]byte(text))
	return s[:]
}

// entry is an invented run as it is committed.
func entry(seed uint64, rows int, fingerprint string) Entry {
	return Entry{RunData: invent(seed, rows), Fingerprint: fingerprint, Depends: fmt.Sprintf(`{"vehicle":"van-%d"}`, seed%5)}
}

// newTestLake makes a lake in a temporary folder and opens it.
func newTestLake(t testing.TB, opts ...Option) *Lake {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "lake")
	if created, err := Init(dir, map[string]string{"vehicles.yaml": "vehicles: []\n"}); err != nil || !created {
		t.Fatalf("init: created %v: %v", created, err)
	}
	return open(t, dir, opts...)
}

func open(t testing.TB, dir string, opts ...Option) *Lake {
	t.Helper()
	l, err := Open(context.Background(), dir, append([]Option{WithClock(func() time.Time { return noon })}, opts...)...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = l.Close() })
	return l
}

// commitAll archives the sources of runs and commits them in one batch.
func commitAll(t testing.TB, l *Lake, b Batch) {
	t.Helper()
	w, err := l.Write(t.Context(), "test")
	if err != nil {
		t.Fatal(err)
	}
	if err := archiveAndCommit(t.Context(), w, b); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// archiveAndCommit stores an invented run's bytes, which its seed's number gives, and then the batch.
func archiveAndCommit(ctx context.Context, w *Writer, b Batch) error {
	for _, e := range b.Runs {
		for _, s := range e.Sources {
			text := "bytes" + strings.TrimSuffix(strings.TrimPrefix(s.Source, "log-"), ".csv")
			if _, err := w.Archive(ctx, strings.NewReader(text)); err != nil {
				return err
			}
		}
	}
	return w.Commit(ctx, b)
}
