package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dynolake/pipeline/export/mdf4"
	"dynolake/schema"

	"github.com/xuri/excelize/v2"
)

// pull is the engine speed of an invented pull: idle, a rise with waves that come once, and a fall.
func pull(t float64) float64 {
	switch {
	case t < 6:
		return 800
	case t < 20:
		return 800 + 150*(t-6) + 70*math.Sin(1.3*t)
	case t < 23:
		return 2970 - 600*(t-20)
	}
	return 1150 + 60*math.Sin(1.7*t)
}

// One pull, four recorders, four forms, four clocks: a workbook, an MDF, a CAN log and a delimited probe log of one sheet row
// become one run with every recorder at its place.
func TestFourFormsOfOnePullAreOneRun(t *testing.T) {
	dir := t.TempDir()
	writeProbe(t, filepath.Join(dir, "probe.csv"), 0)
	writeBook(t, filepath.Join(dir, "dyno.xlsx"), 4.25)
	writeMeasurement(t, filepath.Join(dir, "cell.mf4"), -2.5)
	writeBus(t, filepath.Join(dir, "bus.log"), 1600000000)
	sheet := "files,vehicle,calibration,test\nprobe.csv;dyno.xlsx;cell.mf4;bus.log,invented-1,base,sweep\n"
	if err := os.WriteFile(filepath.Join(dir, "runs.csv"), []byte(sheet), 0o644); err != nil {
		t.Fatal(err)
	}
	lake := filepath.Join(t.TempDir(), "lake")
	dynolake(t, "init", "--lake", lake, "--quiet")
	dynolake(t, "ingest", "--lake", lake, "--quiet", dir)
	sources := askJSON(t, lake, "--sql", "SELECT source, form, shift_s - min(shift_s) FILTER (source = 'probe.csv') OVER () AS shift_s, count(DISTINCT run_id) OVER () AS runs FROM sources ORDER BY source")
	want := map[string]struct {
		form  string
		shift float64
	}{"probe.csv": {"delimited", 0}, "dyno.xlsx#Pull": {"workbook", -4.25}, "cell.mf4": {"mdf4", 2.5}, "bus.log": {"can", -1600000000}}
	for _, s := range sources {
		w, ok := want[s.text("source")]
		if !ok || s.text("form") != w.form || math.Abs(s.num("shift_s")-w.shift) > 0.02 {
			t.Errorf("source %v, want %+v", s, w)
		}
	}
	if len(sources) != len(want) {
		t.Errorf("%d sources, want %d", len(sources), len(want))
	}
	r := askJSON(t, lake, "--sql", "SELECT max(wheel_power_kw) AS power, max(boost_kpa) AS boost, max(pedal_pct) AS pedal, max(turbine_in_c) AS egt, max(engine_speed_rpm) AS rpm, count(DISTINCT run_id) AS runs FROM samples")[0]
	for name, value := range map[string]float64{"power": 140, "boost": 150, "pedal": 100, "egt": 650, "runs": 1} {
		if math.Abs(r.num(name)-value) > 0.01*value {
			t.Errorf("%s = %v, want %v from one of the recorders", name, r[name], value)
		}
	}
	dynolake(t, "verify", "--lake", lake, "--quiet")
}

func writeProbe(t *testing.T, path string, late float64) {
	t.Helper()
	var b strings.Builder
	b.WriteString("Time [s],Engine speed [rpm],MAP [kPa abs],Baro [kPa]\n")
	for x := 0.0; x <= 30; x += 0.02 {
		fmt.Fprintf(&b, "%.2f,%.1f,%.1f,100\n", x+late, pull(x), 100+150*math.Max(0, math.Min(1, (x-7)/4)))
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

func writeBook(t *testing.T, path string, late float64) {
	t.Helper()
	book := excelize.NewFile()
	if err := book.SetSheetName("Sheet1", "Pull"); err != nil {
		t.Fatal(err)
	}
	rows := [][]any{{"Time", "Engine speed", "Wheel power"}, {"s", "1/min", "kW"}}
	for x := 1.0; x <= 29; x += 0.1 {
		rows = append(rows, []any{math.Round(1000*(x+late)) / 1000, math.Round(pull(x)), 10 * math.Max(0, math.Min(14, x-6))})
	}
	for i, row := range rows {
		if err := book.SetSheetRow("Pull", fmt.Sprintf("A%d", i+1), &row); err != nil {
			t.Fatal(err)
		}
	}
	if err := book.SaveAs(path); err != nil {
		t.Fatal(err)
	}
}

func writeMeasurement(t *testing.T, path string, late float64) {
	t.Helper()
	g := mdf4.Group{Name: "cell", Clock: schema.Channel{Name: "time", Unit: "s"}}
	speed := mdf4.Channel{Channel: schema.Channel{Name: "Engine speed", Unit: "rpm"}}
	egt := mdf4.Channel{Channel: schema.Channel{Name: "Turbine inlet temperature", Unit: "°C"}}
	for x := 3.0; x <= 28; x += 0.05 {
		g.T = append(g.T, x+late)
		speed.Values = append(speed.Values, pull(x))
		egt.Values = append(egt.Values, 300+350*math.Max(0, math.Min(1, (x-7)/10)))
	}
	g.Channels = []mdf4.Channel{speed, egt}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 3, 5, 14, 30, 0, 0, time.UTC)
	if err := mdf4.Write(f, mdf4.File{Start: start, Written: start, Program: "test", Version: "1", Groups: []mdf4.Group{g}}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

// writeBus logs J1939 EEC1 (engine speed, 0.125 1/min a bit, bytes 4-5) and EEC2 (pedal, 0.4 % a bit, byte 2); FMS-Standard v02.00.
func writeBus(t *testing.T, path string, late float64) {
	t.Helper()
	var b strings.Builder
	for x := 2.0; x <= 28; x += 0.05 {
		raw := int(math.Round(pull(x) / 0.125))
		pedal := 0
		if x > 6 && x < 20 {
			pedal = 250
		}
		fmt.Fprintf(&b, "(%.6f) can0 0CF00400#FFFFFF%02X%02XFFFFFF\n(%.6f) can0 0CF00300#FF%02XFFFFFFFFFFFF\n", x+late, raw&0xFF, raw>>8, x+late+0.001, pedal)
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
