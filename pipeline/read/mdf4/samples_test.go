package mdf4_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"dynolake/pipeline/read"
	"dynolake/pipeline/read/mdf4"
	"dynolake/schema"
	"dynolake/schema/samples"
)

func file(path string) schema.Source {
	return schema.Source{Name: filepath.Base(path), Size: -1, Open: func() (io.ReadCloser, error) { return os.Open(path) }}
}

func collect(t testing.TB, path string) schema.Log {
	t.Helper()
	logs, err := read.Collect(context.Background(), mdf4.Reader{}, file(path))
	if err != nil || len(logs) != 1 {
		t.Fatalf("%d logs, %v", len(logs), err)
	}
	return logs[0]
}

func group(t testing.TB, l schema.Log, name string) schema.Series {
	t.Helper()
	for _, s := range l.Series {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no group %q in %s", name, l.Source)
	return schema.Series{}
}

// The samples' tables were made by an independent reader; the numbers must agree to 1e-12 of their size.
func TestSamplesAgreeWithTheirTables(t *testing.T) {
	dir := filepath.Join(samples.Folder(t), "mdf")
	for table, from := range map[string][2]string{
		"run.engine.csv": {"run-410-plain.mf4", "Engine 100 Hz"}, "run.exhaust.csv": {"run-410-plain.mf4", "Exhaust 20 Hz"}, "run.ambient.csv": {"run-410-plain.mf4", "Ambient 5 Hz"},
		"run.events.csv": {"run-410-plain.mf4", "Events"}, "conversions.conversions.csv": {"conversions-410.mf4", "Conversions"},
	} {
		t.Run(table, func(t *testing.T) {
			f, err := os.Open(filepath.Join(dir, table))
			if err != nil {
				t.Fatal(err)
			}
			rows, err := csv.NewReader(f).ReadAll()
			if err := f.Close(); err != nil {
				t.Fatal(err)
			}
			if err != nil || len(rows) < 2 {
				t.Fatalf("%d rows, %v", len(rows), err)
			}
			same(t, group(t, collect(t, filepath.Join(dir, from[0])), from[1]), rows)
		})
	}
}

func same(t *testing.T, s schema.Series, rows [][]string) {
	t.Helper()
	if len(s.T) != len(rows)-1 || len(s.Channels) != len(rows[0])-1 {
		t.Fatalf("%d rows of %d channels, want %d of %d", len(s.T), len(s.Channels), len(rows)-1, len(rows[0])-1)
	}
	texts := map[[2]int]string{}
	for _, x := range s.Texts {
		texts[[2]int{x.Row, x.Channel}] = x.Text
	}
	for c, name := range rows[0][1:] {
		if s.Channels[c].Name != name {
			t.Errorf("channel %d is %q, want %q", c, s.Channels[c].Name, name)
		}
	}
	bad := 0
	for i, row := range rows[1:] {
		for c, want := range row {
			got := fmt.Sprintf("%.9f", s.T[i])
			if c > 0 {
				got = as(s.Values[c-1][i], texts[[2]int{i, c - 1}], want)
			}
			if got != want {
				if bad++; bad < 10 {
					t.Errorf("row %d, %s: %q, want %q", i, rows[0][c], got, want)
				}
			}
		}
	}
	if bad > 0 {
		t.Errorf("%d cells differ", bad)
	}
}

// as writes a cell as want has it where the two agree.
func as(v float64, text, want string) string {
	if w, err := strconv.ParseFloat(want, 64); err == nil && !math.IsNaN(v) {
		if math.Abs(v-w) <= 1e-12*math.Abs(w) {
			return want
		}
	}
	if math.IsNaN(v) {
		return text
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

type figures struct {
	name, unit        string
	n                 int
	first, last, mean float64
}

// Figures of the two recorded files by an independent reader. The handheld recorder's clock says s and counts nanoseconds, which its channel of
// Unix times proves: its times are 1e-9 of those figures.
func TestSamplesAgreeWithTheirFigures(t *testing.T) {
	dir := filepath.Join(samples.Folder(t), "mdf")
	for name, want := range map[string][]figures{
		"ethercat-compressed.mf4": {{"Time", "s", 100000, 0.0031, 310.0, 155.00155}, {"Value", "V", 100000, -797.5, 249200.0, 124201.25}},
		"handheld-sensors.mf4": {{"time", "s", 563, 0, 10.0013135000, 4.992681021136767}, {"abs_time", "ns", 563, 1686082945335777300, 1686082955337090800, 1.6860829503284585e+18},
			{"acc_x", "mg", 563, 112, 112, 111.9715808170515}, {"acc_y", "mg", 563, 1024, 1024, 1014.1385435168739}, {"acc_z", "mg", 563, 48, 64, 64.76731793960924}, {"light", "-", 563, 0, 0, 0},
			{"temp", "degC", 563, 28, 28, 28}, {"comp_x", "nT", 563, 1446300, 1445600, 1446981.8827708703}, {"comp_y", "nT", 563, 577700, 578500, 578347.0692717584}, {"comp_z", "nT", 563, 51900, 51100, 51355.95026642984}},
	} {
		t.Run(name, func(t *testing.T) {
			l := collect(t, filepath.Join(dir, name))
			if len(l.Series) != 1 {
				t.Fatalf("%d groups", len(l.Series))
			}
			s := l.Series[0]
			if s.Clock.Name != want[0].name || s.Clock.Unit != want[0].unit || len(s.Channels) != len(want)-1 {
				t.Fatalf("clock %+v, %d channels", s.Clock, len(s.Channels))
			}
			figure(t, want[0], s.T)
			for i, w := range want[1:] {
				if s.Channels[i].Name != w.name || s.Channels[i].Unit != w.unit {
					t.Errorf("channel %+v, want %q [%s]", s.Channels[i], w.name, w.unit)
				}
				figure(t, w, s.Values[i])
			}
		})
	}
}

func figure(t *testing.T, w figures, v []float64) {
	t.Helper()
	if len(v) != w.n {
		t.Fatalf("%s: %d rows, want %d", w.name, len(v), w.n)
	}
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Abs(b) }
	if !near(v[0], w.first) || !near(v[len(v)-1], w.last) || !near(sum/float64(w.n), w.mean) {
		t.Errorf("%s: %v … %v, mean %v; want %v … %v, mean %v", w.name, v[0], v[len(v)-1], sum/float64(w.n), w.first, w.last, w.mean)
	}
}

func TestSamplesSetAsidePolitely(t *testing.T) {
	l := collect(t, filepath.Join(filepath.Join(samples.Folder(t), "mdf"), "run-410-plain.mf4"))
	aside := map[string]bool{}
	for _, f := range l.Findings {
		if f.Code == "channel_set_aside" {
			aside[f.Channel] = true
		} else {
			t.Errorf("%+v", f)
		}
	}
	if len(aside) != 2 || !aside["RawFrame"] || !aside["CylPeakPress"] {
		t.Errorf("set aside: %v", aside)
	}
	s := group(t, l, "Exhaust 20 Hz")
	if s.Channels[5-1].Unit != "µbar" || s.Clock.Name != "Zeit" || !s.Clock.Zoned || s.Clock.Start.UTC().Format("2006-01-02T15:04:05") != "2026-03-14T09:26:53" {
		t.Errorf("%+v", s.Group)
	}
}
