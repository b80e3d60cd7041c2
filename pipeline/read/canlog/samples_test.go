package canlog_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/canlog"
	"dynolake/pipeline/read/canlog/dbc"
	"dynolake/pipeline/read/readtest"
	"dynolake/schema"
	"dynolake/schema/samples"
)

// sample reads an open sample log, with a database beside it or without.
func sample(t *testing.T, name string, databases ...string) schema.Log {
	t.Helper()
	dir := samples.Folder(t)
	var r canlog.Reader
	for _, d := range databases {
		r.Databases = append(r.Databases, database(t, filepath.Join(dir, d)))
	}
	data, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	if fit := r.Probe(data[:min(len(data), 64<<10)]); fit.Score != 85 {
		t.Errorf("probe: %+v", fit)
	}
	logs, err := read.Collect(context.Background(), r, readtest.Bytes(name, data))
	if err != nil || len(logs) != 1 {
		t.Fatalf("%d logs, %v", len(logs), err)
	}
	return logs[0]
}

func database(t *testing.T, path string) dbc.Database {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	db, err := dbc.Parse(filepath.Base(path), text)
	if err != nil {
		t.Fatal(err)
	}
	return db
}

// channel finds one channel's numbers by group and name, and the rows of its group.
func channel(t *testing.T, l schema.Log, group, name string) (values []float64, rows int) {
	t.Helper()
	for _, s := range l.Series {
		for c, ch := range s.Channels {
			if s.Name == group && ch.Name == name {
				for _, v := range s.Values[c] {
					if !math.IsNaN(v) {
						values = append(values, v)
					}
				}
				return values, len(s.T)
			}
		}
	}
	t.Fatalf("no channel %q in group %q", name, group)
	return nil, 0
}

func span(l schema.Log) (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, s := range l.Series {
		for _, x := range s.T {
			first, last = math.Min(first, x), math.Max(last, x)
		}
	}
	return first, last
}

type figure struct {
	group, name string
	rows, n     int
	low, high   float64
	mean        float64
}

// hold compares a log with figures of an independent reading (a bit decoder in Python with numpy).
func hold(t *testing.T, l schema.Log, figures []figure) {
	t.Helper()
	for _, f := range figures {
		v, rows := channel(t, l, f.group, f.name)
		low, high, sum := math.Inf(1), math.Inf(-1), 0.0
		for _, x := range v {
			low, high, sum = math.Min(low, x), math.Max(high, x), sum+x
		}
		if rows != f.rows || len(v) != f.n {
			t.Errorf("%s %s: %d of %d rows hold a number, want %d of %d", f.group, f.name, len(v), rows, f.n, f.rows)
		}
		if mean := sum / float64(len(v)); f.n > 0 && (math.Abs(low-f.low) > 1e-9 || math.Abs(high-f.high) > 1e-9 || math.Abs(mean-f.mean) > 1e-8*math.Abs(f.mean)+1e-7) {
			t.Errorf("%s %s: %v … %v, mean %.10g, want %v … %v, mean %.10g", f.group, f.name, low, high, mean, f.low, f.high, f.mean)
		}
	}
}

func found(l schema.Log, code string) (schema.Finding, bool) {
	for _, f := range l.Findings {
		if f.Code == code {
			return f, true
		}
	}
	return schema.Finding{}, false
}

// The samples' origin: yabskbd/remora_ctrl_proto (MIT). The figures were read from them by an independent bit decoder.
func TestTruckIdle(t *testing.T) {
	l := sample(t, "hd_truck_idle_j1939.candump.log", "hd_truck_j1939.dbc")
	hold(t, l, []figure{
		{"can1 EEC1 F004 from 00", "EngSpeed", 1205, 1205, 598.375, 603.375, 600.4428423},
		{"can1 EEC1 F004 from 21", "EngSpeed", 120, 0, 0, 0, 0},
		{"can1 EEC1 F004 from 00", "ActualEngPercentTorque", 1205, 1205, 15, 17, 16.01742739},
		{"can1 LFE FEF2 from 00", "EngFuelRate", 121, 121, 3.4, 3.8, 3.61322314},
		{"can1 IC1 FEF6 from 00", "EngExhaustGasTemp", 24, 24, 53.875, 55.78125, 55.22526042},
		{"can1 EC1 FEE3 from 00", "EngReferenceTorque", 3, 3, 2300, 2300, 2300},
	})
	if v, _ := channel(t, l, "can1 EGF1 F00A from 01", "EngIntakeAirMassFlowRate"); len(v) != 241 {
		t.Errorf("air mass flow: %d values, want 241", len(v))
	}
	v, _ := channel(t, l, "can1 engine torque from 00", "Engine torque")
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	if len(v) != 1205 || math.Abs(sum/1205-16.01742739*23) > 1e-5 {
		t.Errorf("engine torque: %d values, mean %v, want 1205 and %v", len(v), sum/float64(len(v)), 16.01742739*23)
	}
	if first, last := span(l); first != 1626905042.645596 || last > 1626905054.685539 {
		t.Errorf("time from %.6f to %.6f", first, last)
	}
	if f, ok := found(l, "can_unknown"); !ok || !strings.Contains(f.Text, "FEE1 from 0F (19 bytes) ×3") {
		t.Errorf("the message FEE1 from 0F of 19 bytes, sent 3 times, is not told: %+v", f)
	}
}

func TestTruckDrive(t *testing.T) {
	l := sample(t, "hd_truck_drive_two_buses.candump.log", "hd_truck_j1939.dbc")
	hold(t, l, []figure{
		{"can1 EEC1 F004 from 00", "EngSpeed", 1173, 1173, 1053.625, 2047.5, 1396.38523},
		{"can1 EEC1 F004 from 00", "ActualEngPercentTorque", 1173, 1173, 0, 65, 4.830349531},
		{"can1 LFE FEF2 from 00", "EngFuelRate", 235, 235, 2.85, 64.45, 10.61893617},
		{"can1 CCVS FEF1 from 00", "WheelBasedVehicleSpeed", 234, 234, 24.546875, 103.5, 65.38975694},
		{"can1 CCVS FEF1 from 21", "WheelBasedVehicleSpeed", 240, 0, 0, 0, 0},
		{"can1 EGF1 F00A from 00", "EngIntakeAirMassFlowRate", 470, 470, 559.2, 1304.5, 844.3220213},
		{"can1 AT1IG2 FDB4 from 00", "Aftertreatment1ExhaustGasTemp1", 47, 47, 263.1875, 384.28125, 296.4694149},
		{"can1 IC1 FEF6 from 00", "EngExhaustGasTemp", 47, 0, 0, 0, 0},
		{"can1 IC1 FEF6 from 00", "Intake manifold 1 pressure", 47, 47, 12, 104, 40.42553191},
	})
	if first, last := span(l); first < 1648577423.374793 || last > 1648577447.029314 {
		t.Errorf("time from %.6f to %.6f", first, last)
	}
	if f, ok := found(l, "time_steps_back"); !ok || math.Abs(f.Value-0.009870) > 1e-6 || !strings.Contains(f.Text, "598×") {
		t.Errorf("steps back: %+v", f)
	}
}

func TestCutLine(t *testing.T) {
	l := sample(t, "candump_cut_line.log")
	f, ok := found(l, "cut_or_foreign_line")
	if !ok || f.Value != 1 || !strings.Contains(f.Text, "candump_cut_line.log:401:1") {
		t.Errorf("cut line: %+v", f)
	}
	if f, ok := found(l, "clock_gap"); !ok || math.Abs(f.Value-(1648575604.163280-1648574057.733313)) > 1e-3 {
		t.Errorf("gap: %+v", f)
	}
}

func TestThermocouples(t *testing.T) {
	l := sample(t, "thermocouples_4ch.candump.log", "hd_truck_j1939.dbc")
	hold(t, l, []figure{
		{"can1 EGT_DATA_0 100", "EGT_0", 76, 76, 36.81, 37.12, 36.975},
		{"can1 EGT_DATA_0 100", "EGT_1", 76, 76, 41.37, 41.5, 41.46921053},
	})
	if f, ok := found(l, "can_unknown"); !ok || f.Value != 152 || !strings.Contains(f.Text, "can1 102 ×76, can1 103 ×76") {
		t.Errorf("unknown ids: %+v", f)
	}
}
