package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/pipeline/disk"
	"dynolake/pipeline/lake"
	"dynolake/queries/engine"
	"dynolake/queries/result"
)

// pullLog is an invented log of one full-power pull at 10 Hz, a little stronger with each n.
func pullLog(n int) string {
	var b strings.Builder
	b.WriteString("Time [s],Engine speed [1/min],Accelerator [%],MAP [kPa abs],Baro [kPa],Wheel power [kW],Vehicle speed [km/h]\n")
	for i := range 90 {
		t := float64(i) / 10
		rpm, pedal := 1200.0, 0.0
		if i > 10 {
			rpm, pedal = 1200+350*(t-1), 100
		}
		power := pedal / 100 * (40 + float64(n)) * math.Sin(rpm/2600)
		fmt.Fprintf(&b, "%.1f,%.0f,%.0f,%.1f,100,%.2f,%.1f\n", t, rpm, pedal, 100+pedal*(0.9+float64(n)/100), power, rpm/40)
	}
	return b.String()
}

const tinyVehicles = "vehicles:\n  - {id: van-x, platform: invented, duty: light, displacement: 2 L, cylinders: 4, rated_power: 60 kW, rated_speed: 3500 rpm}\n"

// putText writes a file for a test.
func putText(t testing.TB, path, text string) {
	t.Helper()
	err := os.MkdirAll(filepath.Dir(path), 0o755)
	if err == nil {
		err = os.WriteFile(path, []byte(text), 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// putLogs writes logs with their sheet, and with a broken one where that is asked for.
func putLogs(t testing.TB, dir string, from, to int, broken bool) {
	t.Helper()
	sheet := "files,vehicle,calibration,test,started_at\n"
	for n := from; n < to; n++ {
		name := fmt.Sprintf("pull-%d.csv", n)
		putText(t, filepath.Join(dir, name), pullLog(n))
		sheet += fmt.Sprintf("%s,van-x,%s,sweep,2026-03-%02d 10:00\n", name, []string{"base", "next"}[n%2], n+1)
	}
	putText(t, filepath.Join(dir, "runs.csv"), sheet)
	if broken {
		putText(t, filepath.Join(dir, "broken.csv"), "n [1/min],torque [Nm]\n600,100\n700,110\n")
	}
}

// tinyLake makes a lake with two pulls in it.
func tinyLake(t testing.TB, dir string) {
	t.Helper()
	lake := filepath.Join(dir, "lake")
	logs := filepath.Join(dir, "first")
	putLogs(t, logs, 0, 2, false)
	for _, args := range [][]string{{"init"}, {"ingest", logs}} {
		if code, said := on(t.Context(), disk.OS(), append(args, "--lake", lake)...); code != 0 {
			t.Fatalf("%q: exit %d: %s", args, code, said)
		}
		putText(t, filepath.Join(lake, "config", "vehicles.yaml"), tinyVehicles)
	}
}

// on runs a command on a disk and gives its exit code and all that it said.
func on(ctx context.Context, d disk.Disk, args ...string) (int, string) {
	var said bytes.Buffer
	code := runOn(ctx, d, append([]string{"dynolake"}, args...), io.Discard, &said)
	return code, said.String()
}

// rowsOf prints every row of a lake but for when it was stored, and every table as CSV.
func rowsOf(ctx context.Context, root string) (map[string]string, error) {
	l, err := lake.Open(ctx, root)
	if err != nil {
		return nil, err
	}
	defer func() { _ = l.Close() }()
	snap, err := l.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	s, err := engine.Open(ctx, snap, engine.Options{Threads: 1})
	if err != nil {
		return nil, err
	}
	defer func() { _ = s.Close() }()
	all := map[string]string{}
	for view, left := range map[string]string{"runs": "EXCLUDE (ingested_at)", "samples": "", "segments": "", "curves": "", "sources": "", "unmapped": "", "findings": `EXCLUDE ("at")`} {
		rows, err := s.Query(ctx, "SELECT * "+left+" FROM "+view+" ORDER BY ALL")
		if err != nil {
			return nil, err
		}
		var text bytes.Buffer
		if err := result.Write(ctx, &text, rows, result.CSV, result.Options{}); err != nil {
			return nil, err
		}
		all[view] = text.String()
	}
	tables, err := filepath.Glob(filepath.Join(root, "tables", "*.csv"))
	for _, path := range tables {
		text, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		all[filepath.Base(path)] = string(text)
	}
	return all, err
}
