package align_test

import (
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dynolake/pipeline/align"
	"dynolake/pipeline/read"
	"dynolake/schema"
	"dynolake/schema/samples"
)

// Three clocks of one drive: CO2MPAS-TA (b946f2555411, EUPL-1.1) tests/files/datasync.xlsx. The dyno's clock is 5.0 s ahead of the
// diagnosis' exactly; against the cycle, by least squares on a grid of 0.1 s, 10.4 s and 5.4 s. Their speeds are one trace, so
// that there is no drift between those two.
func TestPairedClocks(t *testing.T) {
	path := filepath.Join(samples.Folder(t), "dyno_obd_paired_clocks.xlsx")
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	sheets, _, err := read.Expand(ctx, schema.Source{Name: "paired.xlsx", Size: info.Size(), Open: func() (io.ReadCloser, error) { return os.Open(path) }})
	if err != nil {
		t.Fatal(err)
	}
	var logs []schema.Log
	var claims []schema.Claim
	at := map[string]int{}
	for _, sheet := range sheets {
		r, err := read.Detect(ctx, sheet)
		if err != nil {
			t.Fatal(err)
		}
		l, err := read.Collect(ctx, r, sheet)
		if err != nil {
			t.Fatal(err)
		}
		align.Repair(&l[0])
		for c, ch := range l[0].Series[0].Channels {
			if strings.HasPrefix(ch.Name, "velocities") {
				claims = append(claims, schema.Claim{Log: len(logs), Channel: c, Column: "vehicle_speed_kmh", Scale: 1, Confidence: 1})
			}
		}
		at[sheet.Name[strings.IndexByte(sheet.Name, '#')+1:]] = len(logs)
		logs = append(logs, l[0])
	}
	places, found := align.Place(logs, claims, time.UTC)
	for _, f := range found {
		t.Log(f.Text)
	}
	dyno, obd, cycle := places[at["dyno"]], places[at["obd"]], places[at["theoretical"]]
	if got := obd.Time(905) - dyno.Time(910); math.Abs(got) > 0.01 || !obd.Placed || !dyno.Placed {
		t.Errorf("the same moment on both lies %.3f s apart, want 0 within 0.01", got)
	}
	if got := cycle.Time(900) - dyno.Time(910.4); math.Abs(got) > 0.1 || !cycle.Placed {
		t.Errorf("the cycle lies %.3f s off, want 0 within the grid of 0.1", got)
	}
}
